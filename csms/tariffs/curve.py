"""The input of pricing: what happened, in order, as segments of constant kind, current and power."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from fractions import Fraction
from zoneinfo import ZoneInfo

from csms.errors import InvalidInput


class SegmentKind(StrEnum):
    """What the time of a segment is to the bill."""

    CHARGING = "CHARGING"
    PARKING = "PARKING"
    """The vehicle asks for no power."""
    PAUSED = "PAUSED"
    """We hold the vehicle back (load sharing): neither charging nor parking, none of the time is billed."""
    RESERVATION = "RESERVATION"


class ReservationOutcome(StrEnum):
    USED = "used"
    EXPIRED = "expired"


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """A stretch of time over which `energy_wh` flows evenly.

    `current_a` is the sum over the lines (3 x 16 A = 48 A); None in both: not known.
    """

    kind: SegmentKind
    duration_s: Fraction
    energy_wh: Fraction = Fraction(0)
    current_a: Fraction | None = None
    power_w: Fraction | None = None

    def __post_init__(self) -> None:
        for name in ("duration_s", "energy_wh", "current_a", "power_w"):
            value = getattr(self, name)
            if value is not None and value < 0:
                raise InvalidInput(name, f"{value} is negative")

    def part(self, begin: Fraction, end: Fraction) -> "Segment":
        """The piece from `begin` to `end`, both in [0, 1] of the segment."""
        return Segment(
            kind=self.kind,
            duration_s=self.duration_s * (end - begin),
            energy_wh=self.energy_wh * (end - begin),
            current_a=self.current_a,
            power_w=self.power_w,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """A reservation and the session after it, either alone, from `start` (aware UTC) on.

    Reservation segments come first. `zone` is the site's. `outcome` says how a reservation ended;
    left out, a reservation with a session after it was used and one without expired.
    """

    start: datetime
    zone: ZoneInfo
    segments: tuple[Segment, ...]
    outcome: ReservationOutcome | None = None

    def __post_init__(self) -> None:
        if self.start.tzinfo is None:
            raise InvalidInput("start", "the start needs a time zone")
        charging_seen = False
        for i, segment in enumerate(self.segments):
            if segment.kind is not SegmentKind.RESERVATION:
                charging_seen = True
            elif charging_seen:
                raise InvalidInput(f"segments[{i}].kind", "a RESERVATION comes before the session, not in it")
            elif segment.energy_wh:
                raise InvalidInput(f"segments[{i}].energy_kwh", "no energy flows during a RESERVATION")
        if self.outcome is ReservationOutcome.EXPIRED and charging_seen:
            raise InvalidInput("reservation_outcome", "a reservation followed by a session did not expire")

    @property
    def reservation(self) -> tuple[Segment, ...]:
        return tuple(s for s in self.segments if s.kind is SegmentKind.RESERVATION)

    @property
    def session(self) -> tuple[Segment, ...]:
        return tuple(s for s in self.segments if s.kind is not SegmentKind.RESERVATION)

    @property
    def session_start(self) -> datetime:
        """When the reservation ends and the session begins; aware UTC."""
        return after(self.start, sum((s.duration_s for s in self.reservation), Fraction(0)))

    @property
    def expired(self) -> bool:
        """Whether there was a reservation and nobody came."""
        if not self.reservation:
            return False
        return (self.outcome is ReservationOutcome.EXPIRED) or (self.outcome is None and not self.session)


def after(start: datetime, elapsed_s: Fraction) -> datetime:
    """The moment `elapsed_s` after `start`, the part of a microsecond cut off."""
    micros = elapsed_s * 1_000_000
    return start + timedelta(microseconds=micros.numerator // micros.denominator)
