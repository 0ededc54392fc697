"""Each choice of the installer acts: other times, other behaviour."""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from typing import Any

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
