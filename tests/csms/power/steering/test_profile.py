from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import partial

import pytest

from csms.power.installation import LINES, Evse, Line, Wiring
from csms.power.sharing.demand import Bound, BoundKind
from csms.power.steering import profile
from csms.power.steering.profile import (
    IDLE_VALID_S,
    LIVE_VALID_S,
    RENEW_AT,
    STACK_LEVEL,
    Purpose,
    charging_profile,
    validity_s,
)
from csms.stations.model import ProfileKind, ProfilePurpose

WIRING = Wiring(evse=Evse("bay", 2), circuit="main", rotation=LINES)
offer = partial(profile.offer, live_valid_s=LIVE_VALID_S)
NO_FALLBACK = Wiring(evse=Evse("bay", 2), circuit="main", fallback_a=0.0)
AT = datetime(2026, 1, 5, 18, tzinfo=UTC)


def test_a_live_offer_ends_by_itself_after_two_minutes() -> None:
    sent = offer(
        7, NO_FALLBACK, Purpose.LIVE, 16.0, AT.timestamp(), transaction="t1", why=Bound(BoundKind.CAR_MAXIMUM)
    )
    profile = charging_profile(sent)
    assert profile.purpose is ProfilePurpose.TX
    assert profile.kind is ProfileKind.ABSOLUTE
    assert profile.transaction_id == "t1"
    assert profile.start_at == AT
    assert profile.valid_to == AT + timedelta(seconds=120)
    assert profile.duration_s == 120
    assert [(p.start_s, p.limit, p.phases) for p in profile.periods] == [(0, 16.0, 3)]


@pytest.mark.parametrize(("current_a", "held_s"), [(16.0, 120), (6.0, 120), (0.0, 300)])
def test_the_fallback_follows_a_live_offer_as_long_as_the_transaction_lasts(
    current_a: float, held_s: int
) -> None:
    """What is below the fallback is held for longer, as the current rises when it ends."""
    profile = charging_profile(offer(7, WIRING, Purpose.LIVE, current_a, AT.timestamp(), transaction="t1"))
    assert [(p.start_s, p.limit, p.phases) for p in profile.periods] == [(0, current_a, 3), (held_s, 6.0, 3)]
    assert (profile.start_at, profile.duration_s, profile.valid_to) == (AT, None, None)
    assert profile.purpose is ProfilePurpose.TX  # it dies with its transaction


@pytest.mark.parametrize("wiring", [NO_FALLBACK, replace(WIRING, keeps_profiles=False)])
def test_nothing_follows_where_there_is_no_fallback_or_none_would_be_kept(wiring: Wiring) -> None:
    assert len(charging_profile(offer(7, wiring, Purpose.LIVE, 16.0, AT.timestamp())).periods) == 1


def test_a_station_that_takes_one_limit_only_gets_one() -> None:
    sent = offer(7, WIRING, Purpose.LIVE, 16.0, AT.timestamp(), follows=False)
    assert (sent.then_a, len(charging_profile(sent).periods)) == (None, 1)


def test_only_the_idle_default_ends_off_line_and_only_where_the_station_can_tell() -> None:
    timed = replace(WIRING, times_offline=True)
    found = {
        (wiring.times_offline, purpose): charging_profile(offer(1, wiring, purpose, 0.0, AT.timestamp()))
        for wiring in (WIRING, timed)
        for purpose in Purpose
    }
    ends = {key: profile.max_offline_s for key, profile in found.items() if profile.max_offline_s is not None}
    assert ends == {(True, Purpose.IDLE): 600}
    assert found[True, Purpose.IDLE].void_after_offline  # it does not come back and stop who charges by then


def test_a_chosen_line_is_told_with_one_phase_and_for_the_fallback_too() -> None:
    profile = charging_profile(offer(7, WIRING, Purpose.LIVE, 16.0, AT.timestamp(), line=2))
    assert [(p.phases, p.phase_to_use) for p in profile.periods] == [(1, 2), (1, 2)]


def test_the_fallback_is_stored_for_good_at_the_lowest_level() -> None:
    profile = charging_profile(offer(1, WIRING, Purpose.FALLBACK, 6.0, AT.timestamp(), transaction="t1"))
    assert profile.purpose is ProfilePurpose.TX_DEFAULT
    assert (profile.valid_to, profile.duration_s, profile.transaction_id) == (None, None, None)
    assert profile.stack_level == min(STACK_LEVEL.values())


def test_the_idle_default_lies_above_the_fallback_and_is_long_but_not_for_good() -> None:
    idle = charging_profile(offer(1, WIRING, Purpose.IDLE, 0.0, AT.timestamp()))
    assert idle.purpose is ProfilePurpose.TX_DEFAULT
    assert idle.stack_level > STACK_LEVEL[Purpose.FALLBACK]
    assert idle.valid_to == AT + timedelta(seconds=IDLE_VALID_S)
    assert IDLE_VALID_S > LIVE_VALID_S


@pytest.mark.parametrize("purpose", Purpose)
def test_a_new_offer_replaces_the_one_before_and_no_other(purpose: Purpose) -> None:
    one = charging_profile(offer(1, WIRING, purpose, 6.0, AT.timestamp(), transaction="t1"))
    two = charging_profile(offer(2, WIRING, purpose, 0.0, AT.timestamp() + 40, transaction="t2"))
    assert one.id == two.id
    others = {
        charging_profile(offer(1, wiring, other, 6.0, AT.timestamp())).id
        for wiring in (WIRING, Wiring(evse=Evse("bay", 1), circuit="main"))
        for other in Purpose
        if (wiring, other) != (WIRING, purpose)
    }
    assert one.id not in others
    assert len(others) == 5


def test_two_renewals_may_fail_before_a_live_offer_lapses() -> None:
    assert validity_s(Purpose.LIVE, LIVE_VALID_S) == LIVE_VALID_S
    assert validity_s(Purpose.FALLBACK, LIVE_VALID_S) is None
    assert RENEW_AT * 3 <= 1


def test_a_single_phase_station_is_told_of_one_line() -> None:
    wiring = Wiring(evse=Evse("bay", 1), circuit="main", rotation=(Line.L2,))
    assert charging_profile(offer(1, wiring, Purpose.IDLE, 0.0, AT.timestamp())).periods[0].phases == 1


def test_an_offer_is_written_in_the_stations_own_time() -> None:
    """The station's clock is five minutes behind: by ours the offer would begin in its future."""
    profile = charging_profile(offer(1, NO_FALLBACK, Purpose.LIVE, 16.0, AT.timestamp(), clock_off_s=300.0))
    assert profile.start_at == AT - timedelta(seconds=300)
    assert profile.valid_to == AT - timedelta(seconds=180)


def test_what_holds_for_good_is_in_force_whatever_a_clock_says() -> None:
    profile = charging_profile(offer(1, WIRING, Purpose.FALLBACK, 6.0, AT.timestamp()))
    assert profile.start_at == datetime(1970, 1, 1, tzinfo=UTC)
