from csms.power.steering.usage import Usage
from csms.stations.model import PerLine


def watch(
    usage: Usage, current_a: PerLine, offer_a: float, seconds: int, *, at_s: int = 100, since_s: float = 0.0,
    wired: int = 3, step_a: float = 1.0,
) -> Usage:  # fmt: skip
    """A reading each second."""
    for second in range(seconds + 1):
        usage = usage.observe(current_a, wired, offer_a, since_s, at_s + second, step_a)
    return usage


def test_unused_current_is_seen_after_30_s_with_a_margin() -> None:
    low = (9.6, 9.4, 9.5)
    assert watch(Usage(), low, 16.0, 29).want_a is None
    assert watch(Usage(), low, 16.0, 30).want_a == 11.0
    assert watch(Usage(), low, 16.0, 30, step_a=0.1).want_a == 10.6
    assert watch(Usage(), (3.0, 3.0, 3.0), 16.0, 30).want_a == 6.0  # less cannot be offered


def test_a_car_within_an_ampere_of_its_offer_uses_it() -> None:
    assert watch(Usage(), (15.2, 15.2, 15.2), 16.0, 100).want_a is None


def test_a_moment_of_use_starts_the_time_anew() -> None:
    usage = watch(Usage(), (9.0, 9.0, 9.0), 16.0, 20)
    usage = usage.observe((16.0, 16.0, 16.0), 3, 16.0, 0.0, 121, 1.0)
    assert watch(usage, (9.0, 9.0, 9.0), 16.0, 29, at_s=122).want_a is None


def test_a_car_on_its_way_up_is_given_time() -> None:
    assert watch(Usage(), (9.0, 9.0, 9.0), 16.0, 38, since_s=100.0).want_a is None
    assert watch(Usage(), (9.0, 9.0, 9.0), 16.0, 40, since_s=100.0).want_a == 10.0
    # Nothing drawn at all says little for two minutes.
    assert watch(Usage(), (0.0, 0.0, 0.0), 16.0, 119).want_a is None
    assert watch(Usage(), (0.0, 0.0, 0.0), 16.0, 120).want_a == 6.0


def test_a_probe_every_five_minutes_also_while_it_keeps_drawing_less() -> None:
    usage = watch(Usage(), (9.0, 9.0, 9.0), 16.0, 30)
    usage = watch(usage, (8.2, 8.2, 8.2), 10.0, 290, at_s=131)
    assert usage.want_a == 10.0
    assert usage.probe(429.0).want_a == 10.0
    assert usage.probe(430.0).want_a == 14.0
    assert Usage().probe(430.0) == Usage()


def test_a_car_that_takes_all_of_the_lowered_offer_wants_more() -> None:
    usage = watch(Usage(), (9.0, 9.0, 9.0), 16.0, 30)
    assert usage.observe((9.8, 9.8, 9.8), 3, 10.0, 100.0, 131, 1.0).want_a == 14.0


def test_lines_really_used_are_learned_in_30_s_and_unlearned_at_once() -> None:
    single = (15.5, 0.1, 0.0)
    assert watch(Usage(), single, 16.0, 29).lines is None
    usage = watch(Usage(), single, 16.0, 30)
    assert usage.lines == (True, False, False)
    assert watch(usage, (0.0, 0.0, 0.0), 16.0, 60, at_s=131).lines == (True, False, False)
    assert usage.observe((15.5, 6.0, 0.0), 3, 16.0, 0.0, 131, 1.0).lines is None


def test_a_line_that_is_not_reported_may_carry_current() -> None:
    assert watch(Usage(), (15.5, None, 0.0), 16.0, 60).lines == (True, True, False)
    assert watch(Usage(), (15.5, None, None), 16.0, 60).lines is None
    assert watch(Usage(), (None, None, None), 16.0, 60) == Usage()


def test_a_weak_current_says_nothing_of_lines() -> None:
    assert watch(Usage(), (4.0, 0.0, 0.0), 6.0, 60).lines is None


def test_a_single_phase_station_has_no_other_lines() -> None:
    assert watch(Usage(), (15.5, None, None), 16.0, 60, wired=1).lines is None
