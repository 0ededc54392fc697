"""Load profile and peaks of a circuit: means over quarters of an hour, per line.

The building's meter is kept as a row a minute and at every step, so a value holds until the next one
and means are weighted by time; beyond HOLD_S it is not known. Where cars are not in what the meter
counts, the figures are without them. Power of the chargers below the circuit comes from registers.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from itertools import pairwise
from zoneinfo import ZoneInfo

from api.deps import Central
from api.reports.chart import Curves
from api.reports.kind import Ask, Asked, Parameter, ReportKind
from api.reports.period import steps
from api.reports.pieces import charged, cut, overlapping, seconds
from api.reports.report import Cell, Column, Report, Row
from csms.errors import NotFound
from csms.metering.building import LineReading
from csms.sites.model import LINES, Circuit, MeterCounts
from csms.store.tables.sessions import session as sessions

ID = "load"
TITLE = "Load profile and peaks"
STEP_S = 900
HOLD_S = 300.0
"""How long a value of the meter holds when no next one comes: five of its usual rows."""
WHOLE = 0.9
"""A quarter of which less is known is marked."""
COLUMNS = (
    Column("id", "Quarter of an hour from"),
    *(Column(f"{line.lower()}_a", f"{line}, mean A", "A") for line in LINES),
    *(Column(f"{line.lower()}_most_a", f"{line}, highest A", "A") for line in LINES),
    Column("known_percent", "Of it measured, %", "%"),
    Column("chargers_w", "Chargers, mean W", "W"),
)
_TENTH = Decimal("0.1")


@dataclass(frozen=True, slots=True)
class Level:
    """Of one interval: mean and highest value per line in A (None: not known), and the share of it that
    is known."""

    mean_a: tuple[float | None, float | None, float | None]
    most_a: tuple[float | None, float | None, float | None]
    known: float


def levels(readings: Sequence[LineReading], edges: Sequence[datetime]) -> list[Level]:
    """The level of each interval between `edges`, of readings in order of time."""
    times = [reading.at.timestamp() for reading in readings]
    bounds = seconds(edges)
    found: list[Level] = []
    place = 0
    for low, high in pairwise(bounds):
        while place < len(times) - 1 and times[place + 1] <= low:
            place += 1
        sums, lengths = [0.0] * 3, [0.0] * 3
        most: list[float | None] = [None] * 3
        known_s, i = 0.0, place
        while i < len(times) and times[i] < high:
            until = min(high, times[i] + HOLD_S, times[i + 1] if i + 1 < len(times) else times[i] + HOLD_S)
            held = until - max(low, times[i])
            if held > 0:
                known_s += held
                for line, value in enumerate(readings[i].current_a):
                    if value is not None:
                        sums[line] += value * held
                        lengths[line] += held
                        most[line] = max(value, most[line] or 0.0)
            i += 1
        mean = [s / n if n else None for s, n in zip(sums, lengths, strict=True)]
        found.append(Level((mean[0], mean[1], mean[2]), (most[0], most[1], most[2]), known_s / (high - low)))
    return found


async def _run(central: Central, asked: Asked) -> Report:
    site, period, zone = asked.site, asked.period, ZoneInfo(asked.site.time_zone)
    circuits = await central.sites.circuits_of(site.id)
    circuit = _chosen(circuits, asked.values.get("circuit"))
    edges = steps(period, zone, STEP_S)
    readings = await central.meters.history(circuit, period.start, period.end)
    found = levels(readings, edges)
    below = _below(circuits, circuit)
    stations = [s.id for s in await central.stations.stations_of(site.id) if s.circuit_id in below]
    chargers_wh: defaultdict[int, int] = defaultdict(int)
    wanted = overlapping(site.id, period.start, period.end) & sessions.c.station_id.in_(stations)
    bounds = seconds(edges)
    async with central.database.read() as connection:
        async for each in charged(connection, wanted, central.clock.now(), STEP_S, 0):
            for piece in cut(each, bounds):
                chargers_wh[piece.place] += piece.energy_wh
    watts = [
        round(chargers_wh[place] * 3600 / (bounds[place + 1] - bounds[place])) for place in range(len(found))
    ]
    local = [edge.astimezone(zone) for edge in edges[:-1]]
    return Report(
        id=ID,
        title=f"{TITLE}: {circuit.name}",
        about={**asked.about, "circuit": circuit.id},
        columns=COLUMNS,
        items=tuple(
            _row(at.isoformat(), level, power_w)
            for at, level, power_w in zip(local, found, watts, strict=True)
        ),
        unknown=(),
        totals=tuple(_peaks(found, local, watts)),
        notes=tuple(_notes(circuit, found, site.time_zone)),
        chart=Curves(
            f"{TITLE}: {circuit.name}",
            "A, mean of 15 min",
            tuple(local),
            tuple((line, tuple(level.mean_a[i] for level in found)) for i, line in enumerate(LINES)),
            max(circuit.limit_a) or None,
        ),
    )


def _chosen(circuits: Iterable[Circuit], wanted: str | None) -> Circuit:
    """The circuit that was asked for, else the incoming line. Raises NotFound."""
    for circuit in circuits:
        if circuit.id == wanted or (wanted is None and circuit.fed_from is None):
            return circuit
    raise NotFound("circuit at this site", wanted or "without a feeder")


def _below(circuits: Sequence[Circuit], top: Circuit) -> set[str]:
    """The circuit and all that it feeds."""
    found = {top.id}
    while True:
        more = {circuit.id for circuit in circuits if circuit.fed_from in found} - found
        if not more:
            return found
        found |= more


def _row(at: str, level: Level, power_w: int) -> Row:
    row: dict[str, Cell] = {"id": at}
    for i, line in enumerate(LINES):
        row[f"{line.lower()}_a"] = _tenths(level.mean_a[i])
        row[f"{line.lower()}_most_a"] = _tenths(level.most_a[i])
    return {**row, "known_percent": round(100 * level.known), "chargers_w": power_w}


def _peaks(found: Sequence[Level], local: Sequence[datetime], watts: Sequence[int]) -> Iterable[Row]:
    """The highest quarter of each line, with when it was, and of the chargers."""
    for i, line in enumerate(LINES):
        known = [(level.mean_a[i], at) for level, at in zip(found, local, strict=True)]
        values = [(value, at) for value, at in known if value is not None]
        if values:
            value, at = max(values, key=lambda each: each[0])
            yield {"id": f"Highest {line}: {at.isoformat()}", f"{line.lower()}_a": _tenths(value)}
    if any(watts):
        place = max(range(len(watts)), key=lambda i: watts[i])
        yield {"id": f"Highest of the chargers: {local[place].isoformat()}", "chargers_w": watts[place]}


def _notes(circuit: Circuit, found: Sequence[Level], zone: str) -> Iterable[str]:
    yield f"Means over quarters of an hour by the clock of {zone}, weighted by time."
    if circuit.meter is None:
        yield f"Circuit {circuit.name} has no meter now; there are no currents, only the chargers' power."
    elif circuit.meter.counts is MeterCounts.BASE:
        yield "The meter does not count the chargers: add them to its currents."
    else:
        yield "The meter counts the chargers too."
    partly = sum(1 for level in found if 0 < level.known < WHOLE)
    missing = sum(1 for level in found if level.known == 0)
    if partly:
        yield f"Quarters that were measured in part only: {partly}; their means are of that part."
    if missing and circuit.meter is not None:
        yield f"Quarters without a reading: {missing}. A gap in the chart is not nought."


def _tenths(value: float | None) -> Decimal | None:
    return None if value is None else Decimal(str(value)).quantize(_TENTH, ROUND_HALF_UP)


KIND = ReportKind(
    id=ID,
    title=TITLE,
    about="Currents of a circuit per line and the chargers' power, a row for each quarter of an hour.",
    run=_run,
    columns=COLUMNS,
    parameters=(
        Parameter(
            name="circuit",
            title="Circuit",
            ask=Ask.CIRCUIT,
            about="the id of a circuit; leave it out for the incoming line",
        ),
    ),
    longest_days=100,
)
