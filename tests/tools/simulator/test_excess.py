"""Seconds and ampere-seconds above a limit, by hand."""

from tools.simulator.excess import Excess


def test_counts_time_area_and_the_longest_stretch() -> None:
    watch = Excess(limit_a=63)
    for seconds, currents in (
        (10, (63.0, 10.0, 63.04)),
        (4, (65.0, 64.0, 10.0)),
        (2, (63.0, 70.0, 10.0)),
        (5, (60.0, 60.0, 60.0)),
        (3, (64.0, 0.0, 0.0)),
    ):
        watch.step(seconds, currents)
    assert watch.seconds == 4 + 2 + 3
    assert watch.ampere_seconds == 4 * (2 + 1) + 2 * 7 + 3 * 1
    assert watch.longest_s == 6
    assert watch.highest_a == 70
