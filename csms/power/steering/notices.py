"""Conditions that a person should hear of. They are told as they are at each look, and end by themselves."""

from dataclasses import dataclass
from enum import StrEnum

from csms.power.installation import Evse, Line


class NoticeKind(StrEnum):
    """What is amiss."""

    LOWERING_REFUSED = "lowering_refused"
    OFFER_IGNORED = "offer_ignored"
    OVER_LIMIT = "over_limit"
    FALLBACK_NOT_STORED = "fallback_not_stored"
    FORGETS_LIMITS = "forgets_limits"
    CANNOT_PAUSE = "cannot_pause"
    CAR_ASLEEP = "car_asleep"
    DERATED = "derated"
    CLOCK_OFF = "clock_off"
    SAMPLES_TOO_SLOW = "samples_too_slow"


@dataclass(frozen=True, slots=True)
class Notice:
    """A condition that holds now: of a bay, or of a circuit's line (None: of its cap)."""

    kind: NoticeKind
    evse: Evse | None = None
    circuit: str | None = None
    line: Line | None = None
