"""What a station is asked to hold, and for how long.

Three limits lie on top of each other in a station that keeps profiles:
FALLBACK  stored for good, lowest: what it may draw when it cannot hear us;
IDLE      a default of 0 A above it that ends by itself (long validity, cheap to renew), so that a
          car that starts before we have answered draws nothing;
LIVE      the offer to a running transaction, valid two minutes and renewed at a third of that.
If we, the network or the site die, the upper two lapse and the station falls back by itself.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum

from csms.power.installation import Evse, Wiring
from csms.power.sharing.demand import Bound
from csms.stations.model import ChargingProfile, ProfileKind, ProfilePeriod, ProfilePurpose

LIVE_VALID_S = 120.0
"""Of a live offer, unless the settings say otherwise."""
IDLE_VALID_S = 3600.0
RENEW_AT = 1 / 3
"""Of the validity: two renewals may fail before an offer lapses."""


EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class Purpose(StrEnum):
    """Which of the three limits an offer sets."""

    FALLBACK = "fallback"
    IDLE = "idle"
    LIVE = "live"


STACK_LEVEL = {Purpose.FALLBACK: 0, Purpose.IDLE: 1, Purpose.LIVE: 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """One limit to send: A on each of the station's own lines. `id` names this sending.

    `valid_s` None: for good. `lines`: how many of the station's lines there are. `transaction` only
    for LIVE. `why`: what bound the offer. `clock_off_s`: our time less the station's.
    """

    id: int
    evse: Evse
    purpose: Purpose
    current_a: float
    lines: int
    sent_s: float
    valid_s: float | None
    transaction: str | None = None
    why: Bound | None = None
    clock_off_s: float = 0.0


def validity_s(purpose: Purpose, live_valid_s: float) -> float | None:
    """How long an offer of this purpose holds, in seconds; None: for good."""
    return {Purpose.FALLBACK: None, Purpose.IDLE: IDLE_VALID_S, Purpose.LIVE: live_valid_s}[purpose]


def offer(
    id: int, wiring: Wiring, purpose: Purpose, current_a: float, now_s: float, *,
    live_valid_s: float, transaction: str | None = None, why: Bound | None = None, clock_off_s: float = 0.0,
) -> Offer:  # fmt: skip
    """The offer of `current_a` to the EVSE so wired, sent at `now_s`."""
    return Offer(
        id=id,
        evse=wiring.evse,
        purpose=purpose,
        current_a=current_a,
        lines=len(wiring.rotation),
        sent_s=now_s,
        valid_s=validity_s(purpose, live_valid_s),
        transaction=transaction if purpose is Purpose.LIVE else None,
        why=why,
        clock_off_s=clock_off_s,
    )


def charging_profile(offer: Offer) -> ChargingProfile:
    """The offer as a station keeps it: one period, absolute in the station's own time, ended by `valid_to`.

    The id is fixed per EVSE and purpose, so that a new offer replaces the one before it. What holds for
    good began in 1970, so that it is in force whatever a clock says that has lost its battery.
    """
    at = datetime.fromtimestamp(offer.sent_s - offer.clock_off_s, UTC)
    level = STACK_LEVEL[offer.purpose]
    return ChargingProfile(
        id=offer.evse.evse_id * 10 + level + 1,
        stack_level=level,
        purpose=ProfilePurpose.TX if offer.purpose is Purpose.LIVE else ProfilePurpose.TX_DEFAULT,
        kind=ProfileKind.ABSOLUTE,
        periods=(ProfilePeriod(start_s=0, limit=offer.current_a, phases=offer.lines),),
        start_at=EPOCH if offer.valid_s is None else at,
        duration_s=None if offer.valid_s is None else round(offer.valid_s),
        valid_to=None if offer.valid_s is None else at + timedelta(seconds=offer.valid_s),
        transaction_id=offer.transaction,
    )
