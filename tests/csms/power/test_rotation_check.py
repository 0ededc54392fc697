"""Stepping one car shows the line that it hangs on.

The method (step one car by 6 A or more, three to five times, and correlate with the building's meter) is
common practice in commissioning; the cases are made up, with numbers that can be followed by hand.
"""

from random import Random

import pytest

from csms.power.installation import LINES, Line
from csms.power.rotation_check import Hold, RotationCheck, Sample, Verdict, check_rotation

L1, L2, L3 = LINES


def run(
    wired: tuple[Line, ...],
    configured: tuple[Line, ...],
    *,
    low_a: float = 6.0,
    high_a: float = 16.0,
    uses: int = 1,
    holds: int = 6,
    noise_a: float = 0.0,
    seen: tuple[Line, ...] = LINES,
    ramp_a: float = 0.0,
) -> RotationCheck:
    """A car on the first `uses` of a station's lines, `wired` so; 40 s a step, a meter of 2 s."""
    random = Random(7)
    held = []
    samples = []
    for i in range(holds):
        car_a = high_a if i % 2 else low_a
        drawn = tuple(car_a if n < uses else 0.0 for n in range(len(wired)))
        held.append(Hold(40.0 * i, 40.0 * i + 40, drawn))
        for k in range(20):
            line_a = {L1: 9.0, L2: 5.0, L3: 7.0}
            for n, line in enumerate(wired):
                # The car follows after 5 s: until then the meter shows the step before.
                old = held[-2].drawn_a[n] if len(held) > 1 and k < 3 else drawn[n]
                line_a[line] += old
            shaken = {
                line: line_a[line] + random.gauss(0, noise_a) + (ramp_a * i if line is L3 else 0.0)
                for line in seen
            }
            samples.append(Sample(40.0 * i + 2 * k, shaken))
    return check_rotation(held, samples, configured)


@pytest.mark.parametrize("line", LINES)
def test_a_single_phase_car_moves_the_line_it_hangs_on(line: Line) -> None:
    order = LINES[LINES.index(line) :] + LINES[: LINES.index(line)]
    found = run(order, order)
    assert found.verdict is Verdict.AS_CONFIGURED
    (only,) = found.found
    assert (only.station_line, only.line, only.steps) == (1, line, 5)
    assert only.gains[line] == pytest.approx(1.0)
    assert found.confidence == pytest.approx(1.0)


def test_a_wrong_map_is_found_and_told() -> None:
    found = run((L2, L3, L1), (L1, L2, L3))
    assert found.verdict is Verdict.DIFFERS
    assert found.why == "the station's L1 moves L2, configured is L1"


def test_a_building_that_moves_too_does_not_hide_it() -> None:
    found = run((L3, L1, L2), (L3, L1, L2), noise_a=2.0)
    assert found.verdict is Verdict.AS_CONFIGURED
    assert 0.7 < found.confidence <= 1.0
    assert run((L3, L1, L2), (L1, L2, L3), noise_a=2.0).verdict is Verdict.DIFFERS


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"high_a": 11.0}, "did not step by 6 A at least 3 times"),
        ({"holds": 3}, "did not step by 6 A at least 3 times"),
        ({"uses": 3}, "no single line of the supply moved with the station's L1, L2, L3"),
        ({"noise_a": 60.0}, "no single line"),
        ({"seen": (L2, L3)}, "no single line"),
        ({"seen": ()}, "did not step by 6 A at least 3 times"),
    ],
)
def test_what_cannot_be_told_is_not_guessed(more: dict[str, object], why: str) -> None:
    found = run((L1, L2, L3), (L1, L2, L3), **more)  # type: ignore[arg-type]
    assert found.verdict is Verdict.UNCLEAR
    assert why in found.why


def test_nothing_measured_is_unclear() -> None:
    assert check_rotation([], [], LINES).verdict is Verdict.UNCLEAR
    assert check_rotation([Hold(0, 40, (6.0,))], [], LINES).verdict is Verdict.UNCLEAR


def test_a_load_that_grows_all_the_time_is_no_step() -> None:
    """3 A more on L3 with every step: up and down cancel it."""
    found = run((L1, L2, L3), (L1, L2, L3), ramp_a=3.0, holds=7)
    assert found.verdict is Verdict.AS_CONFIGURED
    assert found.found[0].gains[L3] == pytest.approx(0.0)
