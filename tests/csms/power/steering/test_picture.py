from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from csms.power.caps import CapSignal
from csms.power.installation import LINES, Line
from csms.power.sharing.demand import Bound, BoundKind
from csms.power.steering.base_load import BuildingMeter
from csms.power.steering.picture import BayState, show
from csms.power.steering.promises import WARY_S, Outcome

Make = Callable[..., Any]


def test_a_circuit_shows_what_flows_what_is_promised_and_what_the_building_takes(yard: Make) -> None:
    site = yard(bays=2, meter=BuildingMeter(), base_a=10.0).connect()
    site.building({Line.L1: 4.0, Line.L2: 2.0, Line.L3: 0.0})
    site.settle(1)
    site.plug(0).settle(1)
    site.measure(0, 20.0, 0.0, 0.0)
    (main,) = show(site.state, site.now_s).circuits
    assert (main.id, main.meter_fresh) == ("main", True)
    assert main.limit_a == dict.fromkeys(LINES, 32.0)
    assert main.base_a == {Line.L1: 4.0, Line.L2: 2.0, Line.L3: 0.0}
    assert main.drawn_a == {Line.L1: 20.0, Line.L2: 0.0, Line.L3: 0.0}
    assert main.promised_a == dict.fromkeys(LINES, 28.0)
    (later,) = show(site.state, site.now_s + 60).circuits
    assert (later.meter_fresh, later.base_a) == (False, dict.fromkeys(LINES, 10.0))


def test_a_bay_shows_its_offer_and_why_it_is_no_higher(yard: Make) -> None:
    site = yard(bays=3, limit_a=10.0).connect()
    site.settle(1)
    assert [bay.state for bay in show(site.state, site.now_s).bays] == [BayState.EMPTY] * 3
    site.plug(0).settle(1)
    site.plug(1).settle(2)
    site.lose(2)
    picture = show(site.state, site.now_s)
    first, second, third = picture.bays
    assert picture.picture_full
    assert (first.state, first.offer_a, first.confirmed) == (BayState.CHARGING, 10.0, True)
    assert first.why == Bound(BoundKind.CIRCUIT_LINE, "main", Line.L1)
    assert (second.state, second.offer_a, second.target_a) == (BayState.WAITING, None, 0.0)
    assert second.why == Bound(BoundKind.WAITING, "main", Line.L1)
    assert second.waiting_since_s == site.now_s - 2
    assert (third.state, third.waiting_since_s) == (BayState.UNREACHABLE, None)
    assert all(bay.safe_in_silence for bay in picture.bays)


def test_a_car_waits_until_it_is_offered_something_and_no_longer_than_that(yard: Make) -> None:
    site = yard(bays=2).connect()
    site.settle(1)
    site.plug(0).settle(1)
    site.plug(1).look()
    second = show(site.state, site.now_s).bays[1]
    assert (second.state, second.target_a) == (BayState.WAITING, 16.0)  # the room is not free yet
    site.answer_all()
    site.settle(5)
    assert show(site.state, site.now_s).bays[1].state is BayState.CHARGING


def test_trouble_has_a_word(yard: Make) -> None:
    site = yard(bays=2).connect()
    site.settle(1)
    site.plug(0).settle(30)
    site.change(0, lambda bay: bay.wants(False))
    assert show(site.state, site.now_s).bays[0].state is BayState.FULL
    site.change(0, lambda bay: bay.wants(True))
    site.measure(0, 40.0)
    found = show(site.state, site.now_s).bays[0]
    assert (found.state, found.measured_a, found.counts_a) == (BayState.IGNORING, 40.0, 40.0)
    site.measure(0, 30.0)
    site.now_s += WARY_S
    site.settle(1)
    site.plug(1).look()
    site.deliver(site.queued[0])
    site.reply(site.delivered[0][0], Outcome.UNANSWERED)
    found = show(site.state, site.now_s).bays[0]
    assert (found.state, found.counts_a) == (BayState.REFUSING, 32.0)


def test_a_circuit_shows_the_lowest_cap_and_who_asked_for_it(yard: Make) -> None:
    site = yard(bays=1).connect()
    (main,) = show(site.state, site.now_s).circuits
    assert (main.cap_w, main.asked) == (None, None)
    until = datetime.fromtimestamp(site.now_s + 60.0, UTC)
    low, lower = CapSignal(9_000.0, until, reason="ours"), CapSignal(4_200.0, until, reason="grid operator")
    site.state = replace(site.state, signals={"main": (low, lower)})
    (main,) = show(site.state, site.now_s).circuits
    assert (main.cap_w, main.asked) == (4_200.0, lower)
    (main,) = show(site.state, site.now_s + 60.0).circuits
    assert (main.cap_w, main.asked) == (None, None)
