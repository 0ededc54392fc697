"""What a station is asked to hold, and for how long.

Three limits lie on top of each other in a station that keeps profiles:
FALLBACK  stored for good, lowest: what it may draw when it cannot hear us;
IDLE      a default of 0 A above it that ends by itself (long validity, cheap to renew), so that a
          car that starts before we have answered draws nothing;
LIVE      the offer to a running transaction, valid two minutes and renewed at a third of that; where
          there is a fallback it follows in the same profile, so that the car goes on with it.
If we, the network or the site die, the upper two lapse and the station falls back by itself.

An offer below the fallback is held longer: when it ends the current rises, and by then all that were
offered more, maybe at stations that were lost with this one, must surely have come down.
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
OFF_LINE_S = 600.0
"""After so long off line a station that can tell (OCPP 2.1) lets go of its idle default by itself."""


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
    for LIVE. `why`: what bound the offer. `clock_off_s`: our time less the station's. `then_a`: what
    follows until the transaction ends (None: what lies beneath). `offline_s`: it ends, too, when the
    station has been off line for so long. `line`: the station's own line, 1 to 3, that a car on one line
    is put on (None: nobody chose).
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
    then_a: float | None = None
    offline_s: float | None = None
    line: int | None = None


def validity_s(purpose: Purpose, live_valid_s: float, *, rises: bool = False) -> float | None:
    """How long an offer of this purpose holds, in seconds; None: for good. `rises`: more follows."""
    if rises:
        return 2 * live_valid_s + 60.0
    return {Purpose.FALLBACK: None, Purpose.IDLE: IDLE_VALID_S, Purpose.LIVE: live_valid_s}[purpose]


def follows_a(wiring: Wiring) -> float | None:
    """A that a car goes on with when its offer has lapsed; None: nothing, or nothing that would be kept."""
    return wiring.fallback_a if wiring.keeps_profiles and wiring.fallback_a > 0 else None


def offer(
    id: int, wiring: Wiring, purpose: Purpose, current_a: float, now_s: float, *,
    live_valid_s: float, transaction: str | None = None, why: Bound | None = None, clock_off_s: float = 0.0,
    follows: bool = True, line: int | None = None,
) -> Offer:  # fmt: skip
    """The offer of `current_a` to the EVSE so wired, sent at `now_s`. `follows` False: the station takes
    no second limit after it."""
    then_a = follows_a(wiring) if purpose is Purpose.LIVE and follows else None
    return Offer(
        id=id,
        evse=wiring.evse,
        purpose=purpose,
        current_a=current_a,
        lines=len(wiring.rotation),
        sent_s=now_s,
        valid_s=validity_s(purpose, live_valid_s, rises=then_a is not None and current_a < then_a),
        transaction=transaction if purpose is Purpose.LIVE else None,
        why=why,
        clock_off_s=clock_off_s,
        then_a=then_a,
        offline_s=OFF_LINE_S if purpose is Purpose.IDLE and wiring.times_offline else None,
        line=line if purpose is Purpose.LIVE else None,
    )


def charging_profile(offer: Offer) -> ChargingProfile:
    """The offer as a station keeps it, absolute in the station's own time.

    One period, ended by `valid_to`; or two, of which the second lasts as long as the transaction. The id is
    fixed per EVSE and purpose, so that a new offer replaces the one before it. What holds for good began in
    1970, so that it is in force whatever a clock says that has lost its battery.
    """
    at = datetime.fromtimestamp(offer.sent_s - offer.clock_off_s, UTC)
    level = STACK_LEVEL[offer.purpose]
    phases = offer.lines if offer.line is None else 1
    periods = [ProfilePeriod(start_s=0, limit=offer.current_a, phases=phases, phase_to_use=offer.line)]
    valid_s = offer.valid_s
    if offer.then_a is not None and valid_s is not None:
        periods.append(
            ProfilePeriod(start_s=round(valid_s), limit=offer.then_a, phases=phases, phase_to_use=offer.line)
        )
        valid_s = None
    return ChargingProfile(
        id=offer.evse.evse_id * 10 + level + 1,
        stack_level=level,
        purpose=ProfilePurpose.TX if offer.purpose is Purpose.LIVE else ProfilePurpose.TX_DEFAULT,
        kind=ProfileKind.ABSOLUTE,
        periods=tuple(periods),
        start_at=EPOCH if offer.valid_s is None else at,
        duration_s=None if valid_s is None else round(valid_s),
        valid_to=None if valid_s is None else at + timedelta(seconds=valid_s),
        transaction_id=offer.transaction,
        max_offline_s=None if offer.offline_s is None else round(offer.offline_s),
        void_after_offline=offer.offline_s is not None,
    )
