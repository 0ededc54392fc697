"""Each choice of the installer acts: other times, other behaviour."""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from typing import Any

from csms.power.steering.base_load import BuildingMeter
from csms.power.steering.notices import NoticeKind
from csms.power.steering.profile import Purpose
from csms.power.steering.promises import SKEW_S
from csms.power.steering.timing import USUAL, Timing

Make = Callable[..., Any]


def timed(yard: Make, timing: Timing, **more: Any) -> Any:
    site = yard(**more)
    site.state = replace(site.state, timing=timing)
    return site.connect().settle(1)


def renewals(site: Any, seconds: int) -> list[float]:
    """When the first bay's live offer was sent, in s from now on."""
    begin_s = site.now_s
    since = len(site.sent)
    site.settle(seconds)
    sent = [offer for offer in site.sent[since:] if offer.purpose is Purpose.LIVE]
    return [offer.sent_s - begin_s for offer in sent]


def test_the_usual_times_are_those_that_the_settings_begin_with() -> None:
    assert Timing(offer_validity_s=120.0, rotation_s=900.0, raise_delay_s=30.0, meter_stale_s=30.0) == USUAL
    assert USUAL.ahead_s == 120.0 + 3 * SKEW_S


def test_an_offer_holds_as_long_as_chosen_and_is_renewed_at_a_third_of_it(yard: Make) -> None:
    site = timed(yard, Timing(offer_validity_s=60.0), bays=1)
    site.plug(0).settle(1)
    live = [offer for offer in site.sent if offer.purpose is Purpose.LIVE]
    assert [offer.valid_s for offer in live] == [60.0]
    bay = site.bay(0)
    assert bay.promise.live.ends_s == live[0].sent_s + 60.0 + SKEW_S
    at = [0.0, *renewals(site, 60)]
    assert len(at) >= 4
    # At a third at the latest, and not all stations at once: from three quarters of it on.
    assert all(14.0 <= later - sooner <= 20.0 for sooner, later in pairwise(at))


def test_a_turn_lasts_as_long_as_chosen(yard: Make) -> None:
    site = timed(yard, Timing(rotation_s=300.0), bays=2, limit_a=10.0)
    site.plug(0).settle(1)
    site.plug(1).settle(290)
    assert site.offered() == [10.0, None]
    site.settle(30)
    assert site.offered() == [0.0, 10.0]


def test_room_must_last_as_long_as_chosen(yard: Make) -> None:
    site = timed(yard, Timing(raise_delay_s=5.0), bays=2)
    site.plug(0, 1).settle(20)
    assert site.offered() == [16.0, 16.0]
    site.unplug(1)
    site.settle(4)
    assert site.offered() == [16.0, None]
    site.settle(3)
    assert site.offered() == [32.0, None]


def test_room_for_a_step_that_nobody_sees_is_kept_free_up_to_the_worst_case(yard: Make) -> None:
    """So that a load that comes on while the meter is silent, or we are dead, fits too."""
    for step_a, building_a, offered_a in (
        (0.0, 5.0, 27.0),
        (8.0, 5.0, 19.0),
        (8.0, 15.0, 12.0),
        (8.0, 22.0, 10.0),
    ):
        timing = Timing(unseen_step_a=step_a)
        site = timed(yard, timing, bays=1, meter=BuildingMeter(), base_a=20.0)
        site.building(building_a)
        site.settle(1)
        site.plug(0).settle(1)
        assert site.offered() == [offered_a], (step_a, building_a)


def test_what_is_kept_free_for_a_step_is_no_overload_when_it_comes(yard: Make) -> None:
    site = timed(yard, Timing(unseen_step_a=8.0), bays=1, meter=BuildingMeter(), base_a=20.0)
    site.building(5.0)
    site.settle(1)
    site.plug(0).settle(1)
    site.building(13.0)
    found = site.look()
    assert not [notice for notice in found.notices if notice.kind is NoticeKind.OVER_LIMIT]
    assert site.live()[-1] == (0, 12.0)  # 32 A less the worst case: room for the next step
