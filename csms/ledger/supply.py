"""What the main meter counted: registers that people or systems entered, over any change of meter."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from csms.errors import InvalidInput
from csms.sites.model import check_name

LARGEST_WH = 10**13


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyRegister:
    """A reading of the meter in front of all chargers. Another `serial` is another meter."""

    id: str
    site_id: str
    serial: str
    at: datetime
    register_wh: int
    created_at: datetime


@dataclass(frozen=True, slots=True)
class SupplyEnergy:
    """`interpolated`: there is no reading at one of the edges."""

    energy_wh: int
    interpolated: bool


class SupplyGap(Exception):
    """The readings do not cover the time; the text says what is missing."""


def check_register(new: SupplyRegister, others: Iterable[SupplyRegister]) -> SupplyRegister:
    """`new` in its final form; InvalidInput where the same meter would run backwards."""
    if new.at.tzinfo is None:
        raise InvalidInput("at", "needs a time zone, e.g. 2026-11-01T00:00:00+01:00")
    if not 0 <= new.register_wh <= LARGEST_WH:
        raise InvalidInput("register_wh", f"must be 0 to {LARGEST_WH} Wh, not {new.register_wh}")
    for other in others:
        if other.serial != new.serial:
            continue
        if other.at == new.at:
            raise InvalidInput("at", f"meter {new.serial} has a reading of that moment already")
        if (other.at < new.at) == (other.register_wh > new.register_wh):
            if other.register_wh == new.register_wh:
                continue
            raise InvalidInput(
                "register_wh",
                f"meter {new.serial} showed {other.register_wh} Wh at {other.at.isoformat()}; a register "
                "does not run backwards: a new meter has a serial number of its own",
            )
    check_name("serial", new.serial, 60)
    return new


def supply_energy(readings: Iterable[SupplyRegister], start: datetime, end: datetime) -> SupplyEnergy | None:
    """What was drawn from `start` to `end`; None where nothing was ever read. Raises SupplyGap.

    The old meter's last and the new one's first reading are of the moment of the change: what lies
    between them in time is not counted by either.
    """
    meters: dict[str, list[SupplyRegister]] = {}
    for reading in sorted(readings, key=lambda each: each.at):
        meters.setdefault(reading.serial, []).append(reading)
    if not meters:
        return None
    total, interpolated = 0, False
    first = min(found[0].at for found in meters.values())
    last = max(found[-1].at for found in meters.values())
    if first > start:
        raise SupplyGap(f"the main meter has no reading at or before {start.isoformat()}: enter one")
    if last < end:
        raise SupplyGap(f"the main meter has no reading at or after {end.isoformat()}: enter one")
    for found in meters.values():
        low, guessed_low = _register(found, start)
        high, guessed_high = _register(found, end)
        total += high - low
        interpolated |= guessed_low or guessed_high
    return SupplyEnergy(total, interpolated)


def _register(found: list[SupplyRegister], at: datetime) -> tuple[int, bool]:
    """A meter's register at an instant: level before its first and after its last reading, else linear."""
    if at <= found[0].at:
        return found[0].register_wh, False
    for earlier, later in pairwise(found):
        if at == later.at:
            return later.register_wh, False
        if earlier.at < at < later.at:
            gained = later.register_wh - earlier.register_wh
            share = (at - earlier.at) / (later.at - earlier.at)
            return earlier.register_wh + round(gained * share), gained > 0
    return found[-1].register_wh, False
