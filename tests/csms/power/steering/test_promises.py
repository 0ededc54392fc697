from dataclasses import replace
from typing import Any

import pytest

from csms.power.installation import Evse, Wiring
from csms.power.steering.profile import (
    IDLE_VALID_S,
    LIVE_VALID_S,
    OFF_LINE_S,
    RENEW_AT,
    Offer,
    Purpose,
    offer,
)
from csms.power.steering.promises import (
    NOTICED_S,
    REACTION_S,
    SKEW_S,
    WARY_S,
    Outcome,
    Promise,
    restored,
    stored,
)
from csms.power.steering.timing import USUAL

WIRING = Wiring(evse=Evse("bay", 1), circuit="main")
NOW = 1000.0


def ask(id: int, purpose: Purpose, current_a: float, now_s: float = NOW, *, follows: bool = False) -> Offer:
    """`follows` False: as to a station that takes one limit at a time."""
    return offer(
        id,
        WIRING,
        purpose,
        current_a,
        now_s,
        live_valid_s=LIVE_VALID_S,
        transaction="t",
        follows=follows,
    )


def promise(**more: Any) -> Promise:
    return Promise(
        **{"rating_a": 32.0, "fallback_a": 6.0, "fallback_stored": True, "reachable": True, **more}
    )


def taken(before: Promise, id: int, purpose: Purpose, current_a: float, now_s: float = NOW) -> Promise:
    return before.ask(ask(id, purpose, current_a, now_s)).answer(id, Outcome.ACCEPTED, now_s)


IDLE = taken(promise(), 1, Purpose.IDLE, 0.0)
LIVE = taken(IDLE, 2, Purpose.LIVE, 16.0)
END = NOW + LIVE_VALID_S + SKEW_S


def followed(before: Promise, id: int, current_a: float) -> Promise:
    """An offer with the fallback of 6 A after it is taken."""
    return before.ask(ask(id, Purpose.LIVE, current_a, follows=True)).answer(id, Outcome.ACCEPTED, NOW)


def test_without_offers_the_fallback_counts() -> None:
    assert promise().counted(NOW) == 6.0
    assert promise(fallback_stored=None).counted(NOW) == 6.0  # the installer's word


def test_a_station_that_keeps_no_fallback_counts_with_its_rating() -> None:
    assert promise(fallback_stored=False).counted(NOW) == 32.0
    refused = promise(fallback_stored=None).ask(ask(1, Purpose.FALLBACK, 6.0))
    assert refused.answer(1, Outcome.REFUSED, NOW).counted(NOW) == 32.0
    assert refused.answer(1, Outcome.ACCEPTED, NOW).fallback_stored is True
    assert refused.answer(1, Outcome.UNANSWERED, NOW).fallback_stored is None
    assert promise(keeps=False).counted(NOW) == 32.0


def test_the_idle_default_counts_once_it_is_accepted_and_until_it_may_lapse() -> None:
    asked = promise().ask(ask(1, Purpose.IDLE, 0.0))
    assert asked.counted(NOW) == 6.0
    assert asked.answer(1, Outcome.UNANSWERED, NOW).counted(NOW) == 6.0
    assert IDLE.counted(NOW) == 0.0
    assert IDLE.counted(NOW + IDLE_VALID_S - SKEW_S - 1) == 0.0
    assert IDLE.counted(NOW + IDLE_VALID_S - SKEW_S) == 6.0
    assert IDLE.counted(NOW + IDLE_VALID_S - SKEW_S - USUAL.ahead_s, USUAL.ahead_s) == 6.0


def test_a_raise_counts_from_the_moment_it_is_sent() -> None:
    asked = IDLE.ask(ask(2, Purpose.LIVE, 16.0))
    assert asked.counted(NOW) == 16.0
    assert asked.answer(2, Outcome.REFUSED, NOW).counted(NOW) == 0.0


def test_a_lowering_counts_as_before_until_accepted_and_followed() -> None:
    asked = LIVE.ask(ask(3, Purpose.LIVE, 6.0))
    assert asked.counted(NOW) == 16.0
    assert asked.counted(NOW + 60) == 16.0
    accepted = asked.answer(3, Outcome.ACCEPTED, NOW + 2)
    assert accepted.counted(NOW + 2) == 16.0
    assert accepted.counted(NOW + 2 + REACTION_S - 0.1) == 16.0
    assert accepted.counted(NOW + 2 + REACTION_S) == 6.0
    assert accepted.measure(6.0, NOW + 3).counted(NOW + 3) == 6.0
    assert accepted.measure(6.5, NOW + 3).counted(NOW + 3) == 16.0
    assert accepted.measure(6.0, NOW + 1).counted(NOW + 3) == 16.0  # read before it was accepted


def test_two_lowerings_ease_each_in_its_own_time() -> None:
    once = taken(LIVE, 3, Purpose.LIVE, 10.0)
    twice = taken(once, 4, Purpose.LIVE, 6.0, NOW + 3)
    assert twice.counted(NOW + 4) == 16.0
    assert twice.counted(NOW + 6) == 10.0
    assert twice.counted(NOW + 8) == 6.0


@pytest.mark.parametrize("outcome", [Outcome.REFUSED, Outcome.UNANSWERED])
def test_a_lowering_that_is_refused_or_unanswered_counts_as_before(outcome: Outcome) -> None:
    asked = LIVE.ask(ask(3, Purpose.LIVE, 6.0)).answer(3, outcome, NOW)
    assert asked.counted(NOW + 30) == 16.0


def test_an_unanswered_raise_counts_until_it_has_surely_lapsed_or_is_superseded() -> None:
    doubtful = IDLE.ask(ask(2, Purpose.LIVE, 16.0)).answer(2, Outcome.UNANSWERED, NOW)
    end = NOW + LIVE_VALID_S + SKEW_S
    assert doubtful.counted(end - 1) == 16.0
    assert doubtful.counted(end) == 0.0
    lower = taken(doubtful, 3, Purpose.LIVE, 8.0, NOW + 10)
    assert lower.counted(NOW + 10 + REACTION_S) == 8.0


def test_a_live_offer_lapses_and_leaves_what_lies_beneath() -> None:
    end = NOW + LIVE_VALID_S + SKEW_S
    assert LIVE.counted(end - 1) == 16.0
    assert LIVE.offered(end - 1) == 16.0
    assert LIVE.counted(end) == 0.0
    assert LIVE.offered(end) is None


def test_the_fallback_that_follows_an_offer_counts_from_when_it_may_begin_until_the_charge_ends() -> None:
    high = followed(IDLE, 2, 16.0)
    assert [high.counted(END - 1), high.counted(END), high.counted(END + 3000)] == [16.0, 6.0, 6.0]
    assert high.offered(END) is None
    assert high.ended().counted(END) == 0.0
    assert taken(high, 3, Purpose.LIVE, 0.0, END + 60).counted(END + 60 + REACTION_S) == 0.0


@pytest.mark.parametrize("how", ["taken", "unanswered", "on its way", "booted", "restarted"])
def test_an_offer_below_the_fallback_is_held_longer_than_any_above_it(how: str) -> None:
    """When it ends the current rises: all that may have been offered more in the same second is over then."""
    asked = IDLE.ask(ask(2, Purpose.LIVE, 0.0, follows=True))
    low = {
        "taken": asked.answer(2, Outcome.ACCEPTED, NOW),
        "unanswered": asked.answer(2, Outcome.UNANSWERED, NOW),
        "on its way": asked,
        "booted": asked.answer(2, Outcome.ACCEPTED, NOW).booted(NOW),
        "restarted": restored(promise(), stored(asked.answer(2, Outcome.ACCEPTED, NOW), NOW)),
    }[how]
    rises_s = NOW + 2 * LIVE_VALID_S + 60.0 - SKEW_S
    assert rises_s > END + USUAL.ahead_s
    assert low.counted(rises_s - 0.1) == 0.0
    assert low.counted(rises_s) == 6.0
    # Its room is made beforehand, but not while it is renewed in time (at a third).
    assert low.counted(rises_s - USUAL.ahead_s, USUAL.ahead_s) == 6.0
    renewed_s = NOW + (2 * LIVE_VALID_S + 60.0) * RENEW_AT
    assert low.counted(renewed_s + 30.0, USUAL.ahead_s) == 0.0


def test_a_station_that_tells_time_off_line_may_let_go_of_its_idle_default_early() -> None:
    """OCPP 2.1's offline duration: the room for its fallback is made from when it was lost."""
    wiring = replace(WIRING, times_offline=True)
    sent = offer(1, wiring, Purpose.IDLE, 0.0, NOW, live_valid_s=LIVE_VALID_S)
    idle = promise().ask(sent).answer(1, Outcome.ACCEPTED, NOW)
    assert idle.counted(NOW + IDLE_VALID_S - SKEW_S - 1) == 0.0  # on line it holds
    lost_s = NOW + 1200.0
    lost = idle.lost(lost_s)
    lets_go_s = lost_s - NOTICED_S + OFF_LINE_S
    assert [lost.counted(lets_go_s - 1), lost.counted(lets_go_s)] == [0.0, 6.0]
    assert lets_go_s > lost_s + LIVE_VALID_S + SKEW_S + USUAL.ahead_s  # all others have come down by then
    back = lost.connected()
    assert back.counted(lets_go_s) == 6.0  # nobody knows, until it is set anew
    again = offer(2, wiring, Purpose.IDLE, 0.0, lets_go_s, live_valid_s=LIVE_VALID_S)
    assert back.ask(again).answer(2, Outcome.ACCEPTED, lets_go_s).counted(lets_go_s) == 0.0
    restarted = restored(promise(), stored(idle, NOW + 5), times_offline=True)
    assert restarted.counted(NOW + 5 - NOTICED_S + OFF_LINE_S) == 6.0
    assert restored(promise(), stored(idle, NOW + 5)).counted(NOW + 1000) == 0.0


def test_what_lies_beneath_counts_during_a_charge_too() -> None:
    paused = taken(promise(), 2, Purpose.LIVE, 0.0)
    assert paused.counted(NOW + REACTION_S) == 6.0  # the charge may end and another begin unheard
    assert taken(IDLE, 2, Purpose.LIVE, 0.0).counted(NOW) == 0.0


def test_a_lost_station_counts_with_its_offer_and_what_was_on_its_way() -> None:
    lost = LIVE.ask(ask(3, Purpose.LIVE, 20.0)).lost(NOW + 1)
    assert not lost.reachable
    assert lost.counted(NOW + 60) == 20.0
    assert lost.counted(NOW + 1 + LIVE_VALID_S + SKEW_S) == 0.0
    assert lost.answer(3, Outcome.REFUSED, NOW + 2) == lost  # too late to know
    assert replace(LIVE, keeps=False).lost(NOW).counted(NOW) == 32.0


def test_a_boot_ends_offers_to_transactions_and_keeps_defaults_where_they_are_kept() -> None:
    booted = LIVE.booted(NOW)
    assert booted.live is None
    # It may have kept the offer after all: that counts until another is taken or the charge ends.
    assert booted.counted(END - 1) == 16.0
    assert booted.counted(END) == 0.0
    assert taken(booted, 3, Purpose.LIVE, 8.0).counted(NOW + REACTION_S) == 8.0
    assert booted.ended().counted(NOW) == 0.0
    forgetful = replace(LIVE, keeps=False).booted(NOW)
    assert (forgetful.idle, forgetful.fallback_stored) == (None, None)
    assert forgetful.counted(NOW) == 32.0


def test_the_end_of_a_charge_frees_its_offer_at_once() -> None:
    assert LIVE.ask(ask(3, Purpose.LIVE, 20.0)).ended().counted(NOW) == 0.0


def test_a_car_that_draws_more_counts_with_what_it_draws() -> None:
    at = NOW + 30
    assert LIVE.measure(22.0, at).counted(at) == 22.0
    given_in = LIVE.measure(22.0, at).measure(16.0, at + 1)
    assert given_in.overdraw_a == 0.0
    assert given_in.counted(at + WARY_S - 1) == 22.0  # it may do so again
    assert given_in.counted(at + WARY_S) == 0.0
    # Within 1 A or a tenth (tolerances of pilot and meter), and while it may still be following: obeying.
    assert LIVE.measure(17.5, at).counted(at) == 16.0
    assert LIVE.measure(22.0, NOW + 5).counted(NOW + 5) == 16.0


def test_what_is_written_down_covers_what_may_hold() -> None:
    raised = LIVE.ask(ask(3, Purpose.LIVE, 20.0))
    found = stored(raised, NOW + 1)
    assert (found.promised_a, found.asked_a, found.accepted) == (20.0, 20.0, False)
    after = restored(Promise(rating_a=32.0, fallback_a=6.0), found)
    gone = raised.lost(NOW + 1)  # our end of the socket is gone, whatever had arrived
    assert not after.reachable
    for second in range(0, int(IDLE_VALID_S) + 300, 10):
        assert after.counted(NOW + 1 + second) >= gone.counted(NOW + 1 + second)
    assert after.counted(NOW + 200) == 0.0
    lowered = taken(LIVE, 3, Purpose.LIVE, 6.0)
    assert stored(lowered, NOW + 1).promised_a == 16.0  # the car may not have followed yet
    assert stored(lowered, NOW + REACTION_S).promised_a == 6.0
    nothing = stored(promise(), NOW)
    assert nothing.promised_a == 0.0
    assert restored(promise(), nothing).counted(NOW) == 6.0


def test_a_station_that_keeps_nothing_counts_in_full_all_the_time() -> None:
    """The link may be gone the next moment, and nobody would have the time to lower."""
    forgetful = taken(promise(keeps=False), 1, Purpose.IDLE, 0.0)
    assert forgetful.counted(NOW) == 32.0
    assert taken(forgetful, 2, Purpose.LIVE, 8.0).counted(NOW + REACTION_S) == 32.0


def test_on_every_boot_the_fallback_is_stored_again() -> None:
    booted = IDLE.booted(NOW)
    assert booted.fallback_stored is None
    assert booted.counted(NOW) == 0.0
    # What was refused before counts in full until it is taken.
    assert promise(fallback_stored=False).booted(NOW).counted(NOW) == 32.0


def test_the_fallback_of_before_counts_until_the_new_one_is_taken() -> None:
    before = taken(promise(fallback_a=16.0, fallback_stored=None), 1, Purpose.FALLBACK, 16.0)
    changed = before.of(rating_a=32.0, fallback_a=6.0, keeps=True)
    assert (changed.fallback_stored, changed.counted(NOW)) == (None, 16.0)
    assert taken(changed, 2, Purpose.FALLBACK, 6.0).counted(NOW) == 6.0
    assert before.of(rating_a=32.0, fallback_a=16.0, keeps=True) == before
