"""What a site and a circuit are, and when they are sound. Currents are in A per line, powers in W."""

import functools
import math
import re
import zoneinfo
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, time
from enum import StrEnum
from typing import TypedDict

from csms.errors import InvalidInput, NotFound
from csms.money import Currency

LINES: tuple[str, str, str] = ("L1", "L2", "L3")
"""The lines of a supply in the order of every per-line value (IEC 60445)."""

LineAmps = tuple[float, float, float]
"""A current for each of the supply's L1, L2, L3, in A; as a limit 0 means that the line is not there."""

NO_AMPS: LineAmps = (0.0, 0.0, 0.0)

LONGEST_NAME = 120
LARGEST_CURRENT_A = 100_000.0
LARGEST_POWER_W = 1_000_000_000
LONGEST_PERIOD_S = 3600.0
MOST_WINDOWS = 48

_ID = re.compile(r"[a-z0-9](?:[a-z0-9_-]{0,38}[a-z0-9])?")


class System(StrEnum):
    """How the supply is earthed, and its voltage (IEC 60364-1): star with neutral, or 230 V without."""

    TN_400 = "TN-400"
    TT_400 = "TT-400"
    IT_230 = "IT-230"
    TT_230 = "TT-230"


class Sharing(StrEnum):
    """How a site's supply is shared (`csms.power.sharing.strategies` says what each does)."""

    WEIGHTED = "weighted"
    EQUAL = "equal"
    FIRST_COME = "first_come"
    PRIORITY = "priority"
    PLANNED = "planned"


class Fairness(StrEnum):
    """What is shared evenly: a car's amperes per line, or its power."""

    AMPERES = "amperes"
    KILOWATTS = "kilowatts"


class MeterCounts(StrEnum):
    """What a circuit's meter sees: everything but our chargers, or all of it."""

    BASE = "base"
    TOTAL = "total"


@dataclass(frozen=True, slots=True)
class CircuitMeter:
    """A circuit is measured; a reading is expected every `period_s` seconds.

    `input`: where readings come from, as `csms.metering` reads it; None: they are pushed by REST.
    """

    counts: MeterCounts
    period_s: float
    input: Mapping[str, object] | None = None


@dataclass(frozen=True, slots=True)
class CapWindow:
    """At most `cap_w` every day from `start` to before `end` by the site's clock; an `end` that is not
    after `start` is on the next day."""

    start: time
    end: time
    cap_w: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """One property with one supply. `active`: its chargers are given power. `strategy` and `fairness`:
    how it is shared."""

    id: str
    name: str
    time_zone: str
    currency: str
    system: System
    active: bool
    created_at: datetime
    strategy: Sharing = Sharing.WEIGHTED
    fairness: Fairness = Fairness.AMPERES


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """A fused part of the supply; `fed_from` None is the supply itself.

    `limit_a`: what the installer allows per line. `device_a`: rating of the fuse or breaker.
    `cap_w`: subscribed power over all lines; `cap_windows`: lower at some hours of the day.
    `unbalance_a`: largest difference between two lines. `worst_base_a`: what all but our chargers
    draw here at worst, circuits below not counted.
    """

    id: str
    site_id: str
    name: str
    fed_from: str | None
    limit_a: LineAmps
    device_a: float | None = None
    cap_w: int | None = None
    cap_windows: tuple[CapWindow, ...] = ()
    unbalance_a: float | None = None
    worst_base_a: LineAmps = NO_AMPS
    meter: CircuitMeter | None = None

    @property
    def lowest_cap_w(self) -> int | None:
        """The lowest cap of any hour."""
        caps = [window.cap_w for window in self.cap_windows]
        return min([*caps, self.cap_w] if self.cap_w is not None else caps, default=None)


class SiteChanges(TypedDict, total=False):
    """What may be changed of a site; what is left out stays."""

    name: str
    time_zone: str
    currency: str
    system: System
    strategy: Sharing
    fairness: Fairness


class CircuitChanges(TypedDict, total=False):
    """What may be changed of a circuit; what is left out stays."""

    name: str
    fed_from: str | None
    limit_a: LineAmps
    device_a: float | None
    cap_w: int | None
    cap_windows: tuple[CapWindow, ...]
    unbalance_a: float | None
    worst_base_a: LineAmps
    meter: CircuitMeter | None


def check_id(field: str, value: str) -> str:
    """`value` if it can be the public id of a thing we keep; InvalidInput otherwise."""
    if not _ID.fullmatch(value):
        raise InvalidInput(
            field, "must be 1 to 40 of a-z, 0-9, - and _, beginning and ending with one of a-z, 0-9"
        )
    return value


def check_name(field: str, value: str, longest: int = LONGEST_NAME) -> str:
    """`value` without blanks around it; InvalidInput when nothing is left or it cannot be shown."""
    value = value.strip()
    if not value:
        raise InvalidInput(field, "must not be empty")
    if len(value) > longest:
        raise InvalidInput(field, f"has {len(value)} characters; at most {longest} are kept")
    if not value.isprintable():
        raise InvalidInput(field, "must be one line of text without control characters")
    return value


@functools.cache
def _time_zones() -> frozenset[str]:
    # "localtime" is the machine's own zone under a name: what it means would depend on the machine.
    return frozenset(zoneinfo.available_timezones() - {"localtime"})


def check_time_zone(field: str, value: str) -> str:
    """`value` if it is a zone of the IANA time zone database; InvalidInput otherwise."""
    if value not in _time_zones():
        raise InvalidInput(
            field, f"{value!r} is not an IANA time zone such as Europe/Oslo or America/Toronto"
        )
    return value


def check_system(field: str, value: str) -> System:
    """`value` as a System; InvalidInput otherwise."""
    try:
        return System(value)
    except ValueError:
        raise InvalidInput(field, f"{value!r} is none of {', '.join(System)}") from None


def check_amps(field: str, value: float) -> float:
    """`value` if it is a current from 0 A up; InvalidInput otherwise."""
    if not math.isfinite(value):
        raise InvalidInput(field, f"must be a finite number of amperes, not {value}")
    if value < 0:
        raise InvalidInput(field, f"must not be negative, but is {value:g} A")
    if value > LARGEST_CURRENT_A:
        raise InvalidInput(field, f"must be at most {LARGEST_CURRENT_A:g} A, not {value:g}")
    return float(value)


def check_site(site: Site) -> Site:
    """`site` with its texts in their final form; InvalidInput names the field that is wrong."""
    return replace(
        site,
        id=check_id("id", site.id),
        name=check_name("name", site.name),
        time_zone=check_time_zone("time_zone", site.time_zone),
        currency=Currency(site.currency).code,
        system=check_system("system", site.system),
        strategy=Sharing(site.strategy),
        fairness=Fairness(site.fairness),
    )


def check_circuit(circuit: Circuit, others: Iterable[Circuit]) -> Circuit:
    """`circuit` in its final form, given the `others` of its site; InvalidInput names the field.

    `others` may hold an earlier state of `circuit`, which is then not counted.
    """
    check_id("id", circuit.id)
    name = check_name("name", circuit.name)
    limit_a = _per_line("limit_a", circuit.limit_a)
    if not any(limit_a):
        raise InvalidInput("limit_a", "must be above 0 A on at least one line")
    worst_base_a = _per_line("worst_base_a", circuit.worst_base_a)
    for line, limit, base in zip(LINES, limit_a, worst_base_a, strict=True):
        if base > 0 and limit == 0:
            raise InvalidInput(f"worst_base_a.{line}", f"the circuit has no {line}: its limit is 0 A")
    if circuit.device_a is not None:
        check_amps("device_a", circuit.device_a)
        for line, limit in zip(LINES, limit_a, strict=True):
            if limit > circuit.device_a:
                raise InvalidInput(
                    f"limit_a.{line}", f"{limit:g} A is above the device's rating of {circuit.device_a:g} A"
                )
    if circuit.cap_w is not None:
        _check_cap("cap_w", circuit.cap_w)
    if len(circuit.cap_windows) > MOST_WINDOWS:
        raise InvalidInput(
            "cap_windows", f"has {len(circuit.cap_windows)} windows; at most {MOST_WINDOWS} are kept"
        )
    for i, window in enumerate(circuit.cap_windows):
        _check_cap(f"cap_windows[{i}].cap_w", window.cap_w)
    if circuit.unbalance_a is not None:
        check_amps("unbalance_a", circuit.unbalance_a)
    if circuit.meter is not None and not 0 < circuit.meter.period_s <= LONGEST_PERIOD_S:
        raise InvalidInput(
            "meter.period_s",
            f"must be above 0 and at most {LONGEST_PERIOD_S:g} s, not {circuit.meter.period_s}",
        )
    check_feed(circuit, others)
    return Circuit(
        id=circuit.id,
        site_id=circuit.site_id,
        name=name,
        fed_from=circuit.fed_from,
        limit_a=limit_a,
        device_a=circuit.device_a,
        cap_w=circuit.cap_w,
        cap_windows=circuit.cap_windows,
        unbalance_a=circuit.unbalance_a,
        worst_base_a=worst_base_a,
        meter=circuit.meter,
    )


def check_feed(circuit: Circuit, others: Iterable[Circuit]) -> None:
    """InvalidInput (`fed_from`) when the tree would have two roots, a loop or a foreign circuit."""
    by_id = {other.id: other for other in others} | {circuit.id: circuit}
    if circuit.fed_from is None:
        for other in by_id.values():
            if other.fed_from is None and other.id != circuit.id and other.site_id == circuit.site_id:
                raise InvalidInput(
                    "fed_from", f"the site's supply is {other.id!r}; name the circuit that feeds this one"
                )
        return
    feed = by_id.get(circuit.fed_from)
    if feed is None or feed.site_id != circuit.site_id:
        raise InvalidInput("fed_from", f"the site has no circuit {circuit.fed_from!r}")
    trail = [circuit.id]
    while feed is not None:
        if feed.id in trail:
            raise InvalidInput("fed_from", f"makes a loop: {' < '.join([*trail, feed.id])}")
        trail.append(feed.id)
        feed = by_id.get(feed.fed_from) if feed.fed_from is not None else None


def path_to_root(circuits: Mapping[str, Circuit], circuit_id: str) -> tuple[Circuit, ...]:
    """The circuit and all that feed it, the supply last. NotFound when it is not among `circuits`."""
    path: list[Circuit] = []
    at: str | None = circuit_id
    while at is not None:
        if at not in circuits:
            raise NotFound("circuit", at)
        path.append(circuits[at])
        at = path[-1].fed_from
    return tuple(path)


def _check_cap(field: str, cap_w: int) -> None:
    if not 0 <= cap_w <= LARGEST_POWER_W:
        raise InvalidInput(field, f"must be from 0 to {LARGEST_POWER_W} W, not {cap_w}")


def _per_line(field: str, values: LineAmps) -> LineAmps:
    if len(values) != len(LINES):
        raise InvalidInput(field, "must have one current for each of L1, L2, L3")
    l1, l2, l3 = (check_amps(f"{field}.{line}", value) for line, value in zip(LINES, values, strict=True))
    return (l1, l2, l3)
