from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from csms.power.caps import CapSignal
from csms.power.installation import LINES, Line
from csms.power.sharing.demand import Bound, BoundKind
from csms.power.steering.base_load import BuildingMeter, Counts
from csms.power.steering.state import new_site

Make = Callable[..., Any]
TOTAL = BuildingMeter(Counts.TOTAL)


def charging(yard: Make, **more: Any) -> Any:
    site = yard(bays=2, **more).connect()
    site.settle(2)
    site.plug(0).settle(2)
    return site


def test_what_our_cars_draw_is_summed_up_on_the_way_to_the_supply(yard: Make) -> None:
    site = charging(yard)
    site.measure(0, 10.0, 0.0, 3.0)
    assert site.state.drawn_a(site.now_s) == {"main": {Line.L1: 10.0, Line.L2: 0.0, Line.L3: 3.0}}


def test_a_total_leaves_two_base_loads_between_which_the_true_one_lies(yard: Make) -> None:
    site = charging(yard, meter=TOTAL)
    site.now_s += 10.0
    site.measure(0, 20.0)
    site.now_s += 10.0
    site.measure(0, 12.0)
    site.building(25.0)
    state, now = site.state, site.now_s
    assert state.base_a(now)["main"][Line.L1] == 5.0  # the total may have been read before it went down
    assert state.worst_base_a(now)["main"][Line.L1] == 13.0
    # With no recent reading of the car it may draw nothing, or all that it was offered.
    later = now + 25.0
    assert state.base_a(later)["main"][Line.L1] == 0.0
    assert state.worst_base_a(later)["main"][Line.L1] == 25.0


def test_a_car_on_its_way_up_is_not_taken_for_the_building(yard: Make) -> None:
    """Meter and car are read at different moments; the car must not be cut for its own current."""
    site = charging(yard, meter=TOTAL)
    for second in range(60):
        site.building(4.0 + (28.0 if second > 3 else 0.0))
        if second % 10 == 9:
            site.measure(0, 28.0)
        site.settle(1)
    assert {amperes for _, amperes in site.live()} == {32.0, 28.0}


def test_a_load_that_takes_the_place_of_a_cars_is_seen_with_the_cars_next_readings(yard: Make) -> None:
    site = charging(yard, meter=TOTAL, limit_a=50.0)
    for second in range(70):
        site.building(30.0)  # first it is the car, then all of it the building
        if second % 10 == 0:
            site.measure(0, 30.0 if second < 40 else 0.0)
        site.settle(1)
    assert site.offered()[0] == 20.0
    assert 30.0 + site.bay(0).promise.counted(site.now_s) <= 50.0


def test_which_cars_a_total_counts(yard: Make) -> None:
    assert charging(yard, meter=TOTAL).state.below_totals() == {"main"}
    assert charging(yard, meter=BuildingMeter()).state.below_totals() == set()
    assert charging(yard).state.below_totals() == set()


def test_under_new_records_what_was_known_stays(yard: Make) -> None:
    site = charging(yard, fallback_a=6.0)
    site.measure(0, 30.0)
    changed = replace(site.site, wirings=tuple(replace(w, fallback_a=8.0) for w in site.site.wirings))
    fresh = new_site(changed).taken_over(site.state, site.now_s)
    bay, before = fresh.bays[site.evses[0]], site.bay(0)
    assert bay.wiring.fallback_a == 8.0
    assert (bay.charge, bay.turn, bay.measured_a) == (before.charge, before.turn, before.measured_a)
    assert bay.promise.reachable
    assert bay.promise.fallback_stored is None  # it is told anew
    assert fresh.picture_full == site.state.picture_full
    assert fresh.next_id == site.state.next_id
    same = new_site(site.site).taken_over(site.state, site.now_s)
    assert same.bays[site.evses[0]].promise == before.promise


def test_a_bay_that_is_new_in_the_records_must_first_be_heard_of(yard: Make) -> None:
    site = charging(yard)
    assert site.state.picture_full
    grown = replace(
        site.site,
        wirings=(*site.site.wirings, replace(site.site.wirings[0], evse=type(site.evses[0])("new", 1))),
    )
    assert not new_site(grown).taken_over(site.state, site.now_s).picture_full
    assert set(LINES) == set(site.site.circuits[0].limit_a)


def test_a_cap_from_outside_lowers_at_once_and_ends_by_itself(yard: Make) -> None:
    """4.2 kW over three lines of 230 V are 6.09 A."""
    site = yard(bays=1, limit_a=32.0).connect()
    site.settle(12)
    site.plug(0).settle(45)
    assert site.offered() == [32.0]
    until = datetime.fromtimestamp(site.now_s, UTC) + timedelta(minutes=5)
    site.state = replace(site.state, signals={"main": (CapSignal(4_200.0, until),)})
    found = site.look()
    assert [offer.current_a for offer in found.offers] == [6.0]
    assert site.bay(0).why == Bound(BoundKind.CAP, "main")
    # It looks again when the signal ends, and gives back what that took.
    site.answer_all()
    site.now_s = until.timestamp() - 3.0
    assert site.look().wake_s == until.timestamp()
    site.settle(2)
    assert site.offered() == [6.0]
    site.settle(45)
    assert site.offered() == [32.0]
    assert site.state.caps_change_s(site.now_s) is None


def test_signals_outlive_a_change_of_the_records(yard: Make) -> None:
    site = charging(yard)
    signal = (CapSignal(4_200.0, datetime.fromtimestamp(site.now_s + 60.0, UTC)),)
    site.state = replace(site.state, signals={"main": signal, "gone": signal})
    assert new_site(site.site).taken_over(site.state, site.now_s).signals == {"main": signal}
