from dataclasses import replace
from typing import Any

import pytest

from csms.power.installation import Evse, Line, System, Wiring
from csms.power.sharing.demand import Connection
from csms.power.steering.bay import Bay, Charge, new_bay
from csms.power.steering.derating import Derating
from csms.power.steering.learned import Learned
from csms.power.steering.profile import LIVE_VALID_S, Purpose, offer
from csms.power.steering.promises import Outcome, StoredOffer
from csms.power.steering.waking import Waking

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


def test_a_lowering_not_taken_before_the_link_was_lost_is_no_fault_when_it_is_back() -> None:
    """It was away for an hour: its session must not be stopped the moment it returns."""
    refused = answered(CHARGING, 2, 6.0, Outcome.REFUSED, NOW + 20)
    back = refused.lost(NOW + 25).connected()
    assert back.pace.refused_since_s is None
    assert back.obeys


def test_a_transaction_that_began_before_the_running_one_is_history() -> None:
    assert CHARGING.started(charge("t0", started_s=NOW - 3600), NOW + 50) is CHARGING


def test_what_is_said_again_of_asking_is_no_news() -> None:
    asleep = replace(CHARGING.wants(True), waking=Waking(asleep=True))
    assert asleep.wants(True) is asleep
    asks = asleep.wants(False).wants(True)
    assert (asks.waking, asks.charge is not None and asks.charge.wants) == (Waking(), True)


def test_the_end_keeps_what_was_learned_of_the_station() -> None:
    learned, derating = Learned(zero=True), Derating(10.0, NOW)
    ended = replace(CHARGING, learned=learned, derating=derating).ended()
    assert (ended.learned, ended.derating) == (learned, derating)


def stored_bay(**wiring: Any) -> Bay:
    """Idle, with fallback and idle default taken."""
    found = bay(**wiring)
    for id, purpose, amperes in ((1, Purpose.FALLBACK, 6.0), (2, Purpose.IDLE, 0.0)):
        sent = offer(id, found.wiring, purpose, amperes, NOW, live_valid_s=LIVE_VALID_S)
        found = replace(found, promise=found.promise.ask(sent)).answered(id, Outcome.ACCEPTED, NOW)
    return found


def test_a_boot_asks_what_was_kept_of_an_idle_station_that_had_taken_its_fallback() -> None:
    assert stored_bay().booted(NOW + 9).checking
    assert not bay().booted(NOW + 9).checking
    assert not CHARGING.booted(NOW + 9).checking
    assert not stored_bay().booted(NOW + 9).lost(NOW + 10).checking


def test_what_is_read_back_after_a_boot_is_learned() -> None:
    booted = stored_bay().booted(NOW + 9)
    kept = booted.read_back(0.0)
    assert (kept.checking, kept.learned.kept, kept.promise.counted(NOW + 10)) == (False, True, 0.0)
    # The default of 0 A is gone, the fallback is there.
    lower = booted.read_back(6.0)
    assert (lower.learned.kept, lower.promise.counted(NOW + 10)) == (True, 6.0)
    forgot = booted.read_back(32.0)
    assert (forgot.learned.kept, forgot.promise.counted(NOW + 10)) == (False, 32.0)
    unknown = booted.read_back(None)
    assert (unknown.checking, unknown.learned.kept, unknown.promise.counted(NOW + 10)) == (False, None, 0.0)
    # What it keeps after the next boot is believed again.
    assert replace(forgot, checking=True).read_back(0.0).promise.keeps


def test_what_was_learned_outlives_us() -> None:
    forgot = stored_bay().booted(NOW + 9).read_back(32.0)
    again = new_bay(forgot.wiring, replace(forgot, learned=replace(forgot.learned, zero=False)).to_store(NOW))
    assert (again.learned.kept, again.learned.zero) == (False, False)
    assert again.promise.counted(NOW) == 32.0


def test_a_changed_fallback_counts_with_the_higher_until_the_station_has_the_new_one() -> None:
    lower = stored_bay(fallback_a=16.0)
    lower = replace(lower, promise=replace(lower.promise, idle=None, stored_a=16.0))
    changed = lower.rewired(replace(lower.wiring, fallback_a=6.0), NOW + 5)
    assert changed.promise.fallback_stored is None  # to be told
    assert changed.promise.counted(NOW + 5) == 16.0
    after_restart = new_bay(changed.wiring, changed.to_store(NOW + 5))
    assert (after_restart.promise.fallback_stored, after_restart.promise.counted(NOW + 5)) == (None, 16.0)
    sent = offer(9, changed.wiring, Purpose.FALLBACK, 6.0, NOW + 6, live_valid_s=LIVE_VALID_S)
    told = replace(changed, promise=changed.promise.ask(sent)).answered(9, Outcome.ACCEPTED, NOW + 6)
    assert (told.promise.fallback_stored, told.promise.counted(NOW + 6)) == (True, 6.0)


def test_between_two_readings_the_draw_is_known_within_bounds() -> None:
    went_down = CHARGING.measured((14.0, None, 2.0), NOW + 20).measured((6.0, None, 2.0), NOW + 30)
    least, most = went_down.drawn_between_a(NOW + 31)
    assert least == {L1: 6.0, L3: 2.0}
    assert most == {L1: 14.0, L2: 16.0, L3: 2.0}  # nobody says what L2 carries
    assert went_down.drawn_between_a(NOW + 60) == ({}, {L1: 16.0, L2: 16.0, L3: 16.0})
    assert bay().drawn_between_a(NOW) == ({}, {})


def test_what_is_received_is_measured_or_else_offered() -> None:
    assert CHARGING.received_a(NOW + 1) == 16.0
    assert CHARGING.measured((9.0, 3.0, None), NOW + 1).received_a(NOW + 2) == 9.0


def test_a_named_line_counts_alone_only_at_a_station_that_was_seen_to_use_it() -> None:
    """Until then it may be using its L1 all the same, or the line that the car was found on."""
    named = bay(can_choose_line=True).started(charge(lines=1), NOW)
    assert (named.put_on(2).line, named.put_on(2).lines) == (2, (L1, L2))
    assert named.put_on(1).lines == (L1,)
    found = replace(named, usage=replace(named.usage, lines=(False, False, True)))
    assert found.put_on(2).lines == (L2, L3)
    seen = replace(found, learned=replace(found.learned, chose=True))
    assert seen.put_on(2).lines == (L2,)


def test_a_station_is_seen_to_choose_by_what_its_car_draws() -> None:
    started = answered(bay(can_choose_line=True).started(charge(lines=1), NOW), 1, 16.0, Outcome.ACCEPTED)
    on_two = started.put_on(2)
    does, does_not = on_two, on_two
    for second in range(40):
        does = does.measured((0.0, 16.0, 0.0), NOW + second)
        does_not = does_not.measured((16.0, 0.0, 0.0), NOW + second)
    assert (does.learned.chose, does.line, does.lines) == (True, 2, (L2,))
    assert (does_not.learned.chooses, does_not.line, does_not.lines) == (False, None, (L1,))
