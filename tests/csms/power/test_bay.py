from dataclasses import replace
from typing import Any

import pytest

from csms.power.bay import Bay, Charge, new_bay
from csms.power.demand import Connection
from csms.power.installation import Evse, Line, System, Wiring
from csms.power.profile import Purpose, offer
from csms.power.promises import Outcome, StoredOffer

L1, L2, L3 = Line
NOW = 1000.0


def bay(**wiring: Any) -> Bay:
    return new_bay(Wiring(**{"evse": Evse("bay", 1), "circuit": "main", **wiring})).connected()


def charge(transaction: str = "t1", **more: Any) -> Charge:
    return Charge(**{"transaction": transaction, "started_s": NOW, **more})


def answered(before: Bay, id: int, current_a: float, outcome: Outcome, now_s: float = NOW) -> Bay:
    sent = offer(id, before.wiring, Purpose.LIVE, current_a, now_s, live_valid_s=120.0, transaction="t1")
    return replace(before, promise=before.promise.ask(sent)).answered(id, outcome, now_s)


CHARGING = answered(bay().started(charge(), NOW), 1, 16.0, Outcome.ACCEPTED)


def test_a_charge_starts_waiting() -> None:
    started = bay().started(charge(), NOW)
    assert started.turn.waiting_since_s == NOW
    assert started.charge == charge()


def test_a_start_told_twice_only_renews_its_facts() -> None:
    again = CHARGING.started(charge(started_s=NOW + 50, max_a=10.0), NOW + 50)
    assert again.promise == CHARGING.promise
    assert again.charge == charge(max_a=10.0)


def test_another_transaction_ends_the_one_before() -> None:
    other = CHARGING.started(charge("t2"), NOW + 50)
    assert other.promise.live is None
    assert other.turn.waiting_since_s == NOW + 50


def test_the_end_forgets_the_car_but_not_the_station() -> None:
    ended = CHARGING.measured((16.0, 0.0, 0.0), NOW + 20).wants(False).ended()
    assert (ended.charge, ended.usage.lines, ended.measured_a) == (None, None, (None, None, None))
    assert ended.known
    assert ended.promise.reachable


def test_the_cars_lines_follow_the_rotation() -> None:
    turned = bay(rotation=(L3, L1, L2)).started(charge(), NOW)
    for second in range(31):
        turned = turned.measured((15.0, 0.0, 0.0), NOW + second)
    assert turned.lines == (L3,)
    load = turned.load(System.TN_400, 15.0)
    assert (load.lines, load.connection) == ((L3,), Connection.LINES)


def test_in_the_delta_two_lines_are_a_pair_and_one_is_none() -> None:
    turned = bay().started(charge(), NOW)
    for second in range(31):
        turned = turned.measured((15.0, 15.0, 0.0), NOW + second)
    assert turned.load(System.IT_230, 15.0).connection is Connection.PAIR
    odd = bay().started(charge(), NOW)
    for second in range(31):
        odd = odd.measured((15.0, 0.0, 0.0), NOW + second)
    assert odd.load(System.IT_230, 15.0).lines == (L1, L2, L3)


def test_what_is_known_to_be_drawn_is_fresh_and_not_more_than_offered() -> None:
    measured = CHARGING.measured((12.0, None, 20.0), NOW + 1)
    assert measured.drawn_a(NOW + 2) == {L1: 12.0, L3: 16.0}
    assert measured.drawn_a(NOW + 100) == {}
    assert bay().drawn_a(NOW) == {}


def test_an_old_reading_and_one_of_no_charge_are_dropped() -> None:
    measured = CHARGING.measured((12.0, 12.0, 12.0), NOW + 20)
    assert measured.measured((3.0, 3.0, 3.0), NOW + 10) is measured
    assert bay().measured((3.0, 3.0, 3.0), NOW) == bay()
    energy = measured.measured((None, None, None), NOW + 30, 5000.0)
    assert energy.charge is not None
    assert (energy.charge.energy_wh, energy.measured_a) == (5000.0, (12.0, 12.0, 12.0))


@pytest.mark.parametrize("outcome", [Outcome.REFUSED, Outcome.UNANSWERED])
def test_a_lowering_that_did_not_come_through_is_remembered_until_one_does(outcome: Outcome) -> None:
    refused = answered(CHARGING, 2, 6.0, outcome, NOW + 20)
    assert (refused.pace.refused_since_s, refused.pace.refused_a) == (NOW + 20, 6.0)
    assert not refused.obeys
    again = answered(refused, 3, 6.0, outcome, NOW + 30)
    assert again.pace.refused_since_s == NOW + 20
    assert answered(again, 4, 6.0, Outcome.ACCEPTED, NOW + 40).obeys


def test_a_refused_raise_is_no_disobedience() -> None:
    refused = answered(CHARGING, 2, 20.0, Outcome.REFUSED, NOW + 20)
    assert refused.obeys
    assert refused.pace.tried == {Purpose.LIVE: NOW + 20}
    assert refused.answered(99, Outcome.REFUSED, NOW + 21) is refused


def test_who_cannot_be_reached_cannot_be_commanded() -> None:
    assert CHARGING.obeys
    assert not CHARGING.lost(NOW).obeys
    assert CHARGING.lost(NOW).connected().obeys


def test_a_restored_bay_counts_with_what_was_written_down() -> None:
    found = StoredOffer(
        promised_a=20.0, lapses_s=NOW + 100, asked_a=20.0, accepted=True, asked_s=NOW, fallback_stored=True
    )
    restored = new_bay(Wiring(evse=Evse("bay", 1), circuit="main"), found)
    assert not restored.known
    assert restored.promise.counted(NOW + 99) == 20.0
    assert restored.promise.counted(NOW + 100) == 6.0
