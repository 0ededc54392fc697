"""What a car needs and by when, as it told its charger by ISO 15118 (OCPP blocks K15 to K17)."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


@dataclass(frozen=True, slots=True, kw_only=True)
class NeedsReported:
    """Answer: NeedsAnswer. None: the car did not say.

    `energy_wh` is asked for from now on; `battery_wh` is the battery's size, `soc_percent` how full it is,
    `to_percent` from where on the car takes it to be full. `transfer`: how it wants to be charged, in the
    standard's word. `max_current_a`: per line.
    """

    evse: int
    transfer: str = ""
    departure: datetime | None = None
    energy_wh: int | None = None
    battery_wh: int | None = None
    soc_percent: int | None = None
    to_percent: int | None = None
    max_current_a: float | None = None


class NeedsVerdict(StrEnum):
    """ACCEPTED: a schedule follows soon. PROCESSING: it follows when more is known. REJECTED: none will."""

    ACCEPTED = "accepted"
    PROCESSING = "processing"
    REJECTED = "rejected"


@dataclass(frozen=True, slots=True)
class NeedsAnswer:
    verdict: NeedsVerdict
