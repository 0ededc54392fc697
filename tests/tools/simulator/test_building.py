"""The building's load: Ohm's law on a series, and steps on top."""

from datetime import UTC, datetime, timedelta

import pytest

from tools.simulator.building import Appliance, BuildingLoad

NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)


def test_currents_follow_the_series_and_the_steps() -> None:
    oven = Appliance(
        line=1, current_a=16, starts_at=NOON + timedelta(seconds=100), ends_at=NOON + timedelta(seconds=160)
    )
    load = BuildingLoad(
        starts_at=NOON,
        interval_s=900,
        power_w=(6900.0, 690.0),
        shares=(0.5, 0.3, 0.2),
        power_factor=1.0,
        appliances=(oven,),
    )
    assert load.currents_a(NOON) == pytest.approx((15, 9, 6))
    assert load.currents_a(NOON + timedelta(seconds=100)) == pytest.approx((15, 25, 6))
    assert load.currents_a(NOON + timedelta(seconds=900)) == pytest.approx((1.5, 0.9, 0.6))
    assert load.currents_a(NOON + timedelta(seconds=1800)) == load.currents_a(NOON)
    assert load.next_change(NOON) == oven.starts_at
    assert load.next_change(NOON + timedelta(seconds=130)) == oven.ends_at
    assert load.next_change(oven.ends_at) == NOON + timedelta(seconds=900)


def test_faults_name_the_field() -> None:
    with pytest.raises(ValueError, match="shares"):
        BuildingLoad(starts_at=NOON, interval_s=900, power_w=(1.0,), shares=(1, 1, 0))
    with pytest.raises(ValueError, match="power_w"):
        BuildingLoad(starts_at=NOON, interval_s=900, power_w=())
    with pytest.raises(ValueError, match="zone"):
        BuildingLoad(starts_at=NOON.replace(tzinfo=None), interval_s=900, power_w=(1.0,))
