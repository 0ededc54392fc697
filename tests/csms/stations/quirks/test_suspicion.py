"""By hand: 11,040 W for a quarter of an hour are 2,760 Wh."""

from datetime import UTC, datetime, timedelta

import pytest

from csms.stations.model import Reading
from csms.stations.quirks.suspicion import NEEDED, Suspicion

BEGIN = datetime(2026, 11, 12, 18, 0, tzinfo=UTC)


def told(energy: float, power: float, count: int = 6, every_s: float = 900) -> list[Reading]:
    return [
        Reading(
            at=BEGIN + timedelta(seconds=every_s * n),
            register_wh=round((500_000 + 2_760 * n * every_s / 900) * energy),
            power_w=11_040 * power,
        )
        for n in range(count)
    ]


@pytest.mark.parametrize(
    ("energy", "power", "name", "factor"),
    [
        (0.001, 1.0, "energy_factor", 1000.0),
        (1.0, 1 / 1000, "power_factor", 1000.0),
        (1.0, 1 / 690, "power_factor", 690.0),
        (1.0, 1 / 230, "power_factor", 230.0),
    ],
)
def test_a_ratio_far_from_one_betrays_the_unit(energy: float, power: float, name: str, factor: float) -> None:
    proposal = Suspicion().look(told(energy, power))
    assert proposal is not None
    assert (proposal.name, proposal.factor) == (name, factor)


@pytest.mark.parametrize("power", [1.0, 0.5, 2.0, 0.1])
def test_right_units_and_uneven_power_betray_nothing(power: float) -> None:
    assert Suspicion().look(told(1.0, power)) is None


def test_it_takes_several_steps_whether_they_come_together_or_not() -> None:
    suspicion = Suspicion()
    found = [suspicion.look([reading]) for reading in told(0.001, 1.0)]
    assert found[:NEEDED] == [None] * NEEDED
    assert found[NEEDED] is not None


@pytest.mark.parametrize("every_s", [10, 7200])
def test_steps_too_short_or_too_long_say_nothing(every_s: float) -> None:
    assert Suspicion().look(told(0.001, 1.0, every_s=every_s)) is None


def test_readings_without_power_or_register_say_nothing() -> None:
    bare = [Reading(at=reading.at, register_wh=reading.register_wh) for reading in told(0.001, 1.0)]
    assert Suspicion().look(bare) is None
    still = [Reading(at=reading.at, register_wh=7, power_w=0.0) for reading in told(0.001, 1.0)]
    assert Suspicion().look(still) is None
