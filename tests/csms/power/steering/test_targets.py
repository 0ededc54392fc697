from collections.abc import Callable
from dataclasses import replace
from typing import Any

from csms.power.sharing.demand import BoundKind
from csms.power.steering.targets import demand, find_targets, keeps_turn
from csms.power.steering.timing import USUAL

Make = Callable[..., Any]


def ready(yard: Make, bays: int = 1, **more: Any) -> Any:
    site = yard(bays=bays, **more).connect()
    site.settle(1)
    return site


def asked(site: Any, i: int = 0) -> Any:
    return demand(site.bay(i), site.state.network, site.now_s, USUAL)


def test_an_empty_or_unreachable_bay_asks_for_nothing(yard: Make) -> None:
    site = ready(yard, bays=2)
    assert asked(site) is None
    site.plug(0, 1)
    site.lose(1)
    assert asked(site) is not None
    assert asked(site, 1) is None


def test_the_least_of_station_car_and_use_is_the_maximum(yard: Make) -> None:
    site = ready(yard, max_current_a=20.0)
    site.plug(0)
    assert (asked(site).max_a, asked(site).maximum_is) == (20.0, BoundKind.STATION)
    site.unplug(0)
    site.plug(0, max_a=16.0, weight=2.0, priority=1, min_a=8.0)
    found = asked(site)
    assert (found.max_a, found.maximum_is) == (16.0, BoundKind.CAR_MAXIMUM)
    assert (found.weight, found.priority, found.min_a, found.step_a) == (2.0, 1, 8.0, 1.0)


def test_a_full_car_asks_last_and_for_the_minimum(yard: Make) -> None:
    site = ready(yard, bays=2)
    site.plug(0, 1)
    site.change(0, lambda bay: bay.wants(False))
    assert (asked(site).min_a, asked(site).max_a) == (6.0, 6.0)
    assert asked(site).priority < asked(site, 1).priority


def test_what_it_may_draw_anyway_is_planned_with_first(yard: Make) -> None:
    site = yard(bays=2, fallback_a=8.0).connect()  # no default of 0 A yet
    site.plug(0)
    assert (asked(site).min_a, asked(site).priority > 1000) == (8.0, True)


def test_a_turn_lasts_a_quarter_of_an_hour_from_the_first_offer(yard: Make) -> None:
    site = ready(yard)
    site.plug(0)
    assert not keeps_turn(site.bay(0), site.now_s, USUAL.rotation_s)
    site.settle(2)
    since = site.bay(0).turn.running_since_s
    assert since is not None
    assert keeps_turn(site.bay(0), since + 899, 900.0)
    assert not keeps_turn(site.bay(0), since + 900, 900.0)


def test_a_car_that_waits_keeps_its_place_while_it_waits_for_room(yard: Make) -> None:
    """A target alone is no turn: were the wait to start anew, a base load step would cost it its place."""
    site = ready(yard, bays=2, limit_a=10.0)
    site.plug(0).settle(1)
    site.plug(1).settle(3)
    since = site.bay(1).turn.waiting_since_s
    assert since is not None
    site.unplug(0)
    site.look()
    assert site.bay(1).target_a == 10.0
    assert site.bay(1).turn.waiting_since_s == since
    site.answer_all()
    site.settle(1)
    assert site.bay(1).turn.waiting_since_s is None


def test_bays_that_cannot_be_commanded_are_reserved_for(yard: Make) -> None:
    site = ready(yard, bays=2, fallback_a=6.0)
    site.plug(0, 1).settle(5)
    site.lose(1)
    site.now_s += 3600
    found = find_targets(list(site.state.bays.values())[1:], site.state.network, {}, site.now_s, USUAL)
    assert found.allocation.offers_a == {}
    assert found.allocation.line_a["main"]["L1"] == 6.0  # type: ignore[index]


def test_a_full_car_keeps_its_minimum_only_out_of_what_others_leave(yard: Make) -> None:
    site = ready(yard, bays=3, limit_a=32.0)
    site.plug(0, 1, 2)
    site.change(1, lambda bay: bay.wants(False))
    site.change(2, lambda bay: bay.wants(False))
    bays = list(site.state.bays.values())
    found = find_targets(bays, site.state.network, {}, site.now_s, USUAL)
    assert [bay.target_a for bay in found.bays] == [32.0, 0.0, 0.0]
    site.change(0, lambda bay: replace(bay, charge=replace(bay.charge, max_a=20.0)))
    found = find_targets(list(site.state.bays.values()), site.state.network, {}, site.now_s, USUAL)
    assert [bay.target_a for bay in found.bays] == [20.0, 6.0, 6.0]


def test_a_car_is_probed_only_where_nobody_else_wants_the_room(yard: Make) -> None:
    def offers(limit_a: float) -> set[tuple[float | None, ...]]:
        site = ready(yard, bays=2, limit_a=limit_a)
        site.plug(0, 1).settle(30)
        found = set()
        for second in range(1200):
            site.settle(1)
            given = [offer or 0.0 for offer in site.offered()]
            if second % 10 == 0:  # the first car takes 10 A at most, the second all that it is given
                site.measure(0, min(10.0, given[0]))
                site.measure(1, given[1])
            if second > 300:
                found.add(tuple(site.offered()))
        return found

    assert offers(limit_a=32.0) == {(11.0, 21.0)}
    assert {first for first, _ in offers(limit_a=64.0)} == {11.0, 15.0}
