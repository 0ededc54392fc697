"""What a car needs by when, put together from all who said something.

Asked in this order, for the energy and for the departure apart: what a *person* told for this charge
(`PUT /v1/sessions/{id}/need`), what the *car* told through its charger, what its *member* always needs.
So a car that knows its battery but not its driver's plans still leaves when its member does. Where nobody
has told an energy it is *assumed*, and the plan says so; without a departure a car is not held back at all.

"To 80 %" needs to be told a battery and a state of charge, by whoever; else the energy counts that was told
beside it. From the socket to the battery a tenth is lost (common practice).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta, tzinfo
from enum import StrEnum

from csms.errors import InvalidInput

CHARGING_EFFICIENCY = 0.9
ASSUMED_MORE_WH = 2_000.0
"""A car that goes on after what was assumed of it is taken to want so much more."""
LARGEST_WH = 1_000_000
FULL_PERCENT = 100


class Source(StrEnum):
    """Who said it."""

    PERSON = "person"
    CAR = "car"
    MEMBER = "member"
    ASSUMED = "assumed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What was told for one charge; None: not told.

    `energy_wh` counts from `from_wh` of the session's energy on (0: it is of the whole charge), the state of
    charge was read at `at_wh` of it.
    """

    source: Source
    departure: datetime | None = None
    energy_wh: int | None = None
    to_percent: int | None = None
    battery_wh: int | None = None
    soc_percent: float | None = None
    from_wh: int = 0
    at_wh: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberNeed:
    """What every charge of a member needs: on `days` (1 Monday to 7 Sunday) it leaves at `leaves_at`."""

    days: tuple[int, ...]
    leaves_at: time
    energy_wh: int | None = None
    to_percent: int | None = None
    battery_wh: int | None = None

    def departure(self, arrival: datetime, zone: tzinfo) -> datetime:
        """The first leaving after `arrival`, in UTC. An hour that the clocks leave out is the one after."""
        today = arrival.astimezone(zone).date()
        for ahead in range(8):
            day = today + timedelta(days=ahead)
            leaving = datetime.combine(day, self.leaves_at, zone).astimezone(UTC)
            if day.isoweekday() in self.days and leaving > arrival:
                return leaving
        raise ValueError("a member's need has a day at least")


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """What a charge is planned for. `energy_wh`: of the whole charge at the socket; `left_wh`: still missing.

    `departure` None: nobody knows. `exact`: the energy was told or follows from what was; what is assumed
    may turn out to be too little, so such a car is not held back after it.
    """

    energy_wh: float
    left_wh: float
    departure: datetime | None
    energy_from: Source
    departure_from: Source

    @property
    def exact(self) -> bool:
        return self.energy_from is not Source.ASSUMED

    def eager(self, charged_wh: float) -> bool:
        """Whether it charges as soon as it can: nobody knows its departure, or it goes on after what was
        assumed."""
        return self.departure is None or (not self.exact and charged_wh >= self.energy_wh)


def goal(
    told: Iterable[Told],
    member: MemberNeed | None,
    *,
    arrival: datetime,
    zone: tzinfo,
    charged_wh: float,
    assumed_wh: float,
    soc: tuple[float, float] | None = None,
) -> Goal:
    """Put it together. `charged_wh`: the session's energy now. `soc`: percent as the meter last told, and the
    session's energy then."""
    by_source = {each.source: each for each in told}
    if member is not None:
        by_source[Source.MEMBER] = Told(
            source=Source.MEMBER,
            departure=member.departure(arrival, zone),
            energy_wh=member.energy_wh,
            to_percent=member.to_percent,
            battery_wh=member.battery_wh,
        )
    order = [by_source[s] for s in (Source.PERSON, Source.CAR, Source.MEMBER) if s in by_source]
    departure = next((each for each in order if each.departure is not None), None)
    battery_wh = next((each.battery_wh for each in order if each.battery_wh), None)
    soc = soc or next(((e.soc_percent, e.at_wh) for e in order if e.soc_percent is not None), None)
    for each in order:
        total = _energy(each, battery_wh, soc)
        if total is not None:
            energy, source = total, each.source
            break
    else:
        energy, source = assumed_wh, Source.ASSUMED
    return Goal(
        energy_wh=energy,
        left_wh=max(ASSUMED_MORE_WH if source is Source.ASSUMED else 0.0, energy - charged_wh),
        departure=departure.departure if departure else None,
        energy_from=source,
        departure_from=departure.source if departure else Source.ASSUMED,
    )


def _energy(told: Told, battery_wh: int | None, soc: tuple[float, float] | None) -> float | None:
    """Wh of the whole charge; None: it was not told."""
    if told.to_percent is not None and battery_wh is not None and soc is not None:
        percent, at_wh = soc
        missing = max(0.0, told.to_percent - percent) / FULL_PERCENT
        return at_wh + missing * battery_wh / CHARGING_EFFICIENCY
    if told.energy_wh is not None:
        return float(told.from_wh + told.energy_wh)
    return None


def check_energy(
    energy_wh: int | None, to_percent: int | None, battery_wh: int | None, soc_percent: int | None = None
) -> None:
    """Raises InvalidInput for what can be no need."""
    for name, value, most in (
        ("energy_wh", energy_wh, LARGEST_WH),
        ("to_percent", to_percent, FULL_PERCENT),
        ("battery_wh", battery_wh, LARGEST_WH),
    ):
        if value is not None and not 0 < value <= most:
            raise InvalidInput(name, f"must be from 1 to {most}, or left out, not {value}")
    if soc_percent is not None and not 0 <= soc_percent <= FULL_PERCENT:
        raise InvalidInput("soc_percent", f"must be from 0 to 100, or left out, not {soc_percent}")


def check_member(need: MemberNeed) -> MemberNeed:
    """`need` if it is sound; InvalidInput with the field and what to do."""
    if not need.days or len(set(need.days)) != len(need.days):
        raise InvalidInput("days", "name each day on which it leaves once: 1 for Monday to 7 for Sunday")
    for i, day in enumerate(need.days):
        if not 1 <= day <= 7:
            raise InvalidInput(f"days[{i}]", f"must be from 1 for Monday to 7 for Sunday, not {day}")
    check_energy(need.energy_wh, need.to_percent, need.battery_wh)
    if need.energy_wh is None and need.to_percent is None:
        raise InvalidInput("energy_wh", "give the energy of a charge, or to_percent, or both")
    return need


def check_told(told: Told, now: datetime) -> Told:
    """`told` if it is sound and says something; InvalidInput with the field and what to do."""
    check_energy(
        told.energy_wh,
        told.to_percent,
        told.battery_wh,
        None if told.soc_percent is None else int(told.soc_percent),
    )
    if told.departure is None and told.energy_wh is None and told.to_percent is None:
        raise InvalidInput("departure", "give a departure, or an energy, or to_percent")
    if told.departure is not None and told.departure <= now:
        raise InvalidInput("departure", "is over already; give a time to come")
    return told
