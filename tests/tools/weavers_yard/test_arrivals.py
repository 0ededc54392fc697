"""Arrivals from champpy: plausible against the surveys behind its parameters, and the same again from the
same seed."""

from datetime import date, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from tools.weavers_yard.arrivals import VAN_KWH_PER_KM, stays

pytest.importorskip("champpy", reason="the demo's arrivals come from the optional package champpy")
ZONE = ZoneInfo("Europe/Amsterdam")
MONDAY = date(2026, 11, 23)


def test_stays_are_ordered_apart_and_plausible() -> None:
    found = stays(MONDAY, 28, ZONE, cars=16, vans=6, seed=5)
    assert [stay.arrives_at for stay in found] == sorted(stay.arrives_at for stay in found)
    by_vehicle: dict[tuple[bool, int], list[tuple[float, float]]] = {}
    for stay in found:
        span = (stay.arrives_at.timestamp(), stay.departs_at.timestamp())
        by_vehicle.setdefault((stay.is_van, stay.vehicle), []).append(span)
        assert stay.departs_at - stay.arrives_at >= timedelta(hours=2)
        assert stay.energy_wh >= 0
    assert {vehicle for is_van, vehicle in by_vehicle if is_van} == set(range(6))
    for spans in by_vehicle.values():
        assert all(before[1] < after[0] for before, after in pairwise(spans))
    # champpy states 21,744 km a year for the vans of its parameters 1 (REM2030 driving profiles)
    van_km = sum(stay.energy_wh for stay in found if stay.is_van) / 1000 / VAN_KWH_PER_KM
    assert van_km / 6 / 28 * 365 == pytest.approx(21_744, rel=0.35)


def test_equal_seeds_give_equal_days() -> None:
    first = stays(MONDAY, 3, ZONE, cars=2, vans=1, seed=5)
    assert first == stays(MONDAY, 3, ZONE, cars=2, vans=1, seed=5)
    assert first != stays(MONDAY, 3, ZONE, cars=2, vans=1, seed=6)


def test_failure_says_what_champpy_said() -> None:
    with pytest.raises(RuntimeError, match="champpy could not"):
        stays(MONDAY, 0, ZONE, cars=1, vans=0, seed=5)
