"""CO2 of charging, by a series of factors that somebody has uploaded for the site.

Each session is cut at the hours (or at the quarters, where factors are that short), and what it took in
each is multiplied by the factor of that time. Energy without a factor is told and has no CO2.
"""

from collections import defaultdict
from dataclasses import dataclass
from datetime import timedelta
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from zoneinfo import ZoneInfo

from api.deps import Central
from api.reports.chart import Bars
from api.reports.kind import Ask, Asked, Parameter, ReportKind
from api.reports.names import NOBODY, Of, names
from api.reports.orphans import orphan_note
from api.reports.period import offset_s, steps
from api.reports.pieces import charged, cut, overlapping, seconds
from api.reports.report import Cell, Column, Report, Row
from api.web.order import natural
from csms.metering.emissions.factor import emitted

ID = "co2"
TITLE = "CO2 of charging"
COLUMNS = (
    Column("id", "Id"),
    Column("name", "Name"),
    Column("energy_wh", "Energy, Wh", "Wh"),
    Column("missing_wh", "Of it without a factor, Wh", "Wh"),
    Column("co2_g", "CO2 equivalent, g", "g"),
    Column("g_per_kwh", "Mean of what has a factor, g/kWh", "g/kWh"),
)
NOTES = (
    "CO2 equivalents by the factors uploaded for the site; what they count in is for their source to say.",
    "Energy without a factor has no CO2 here: the figure is then too low; a column says of how much energy.",
)


class By(StrEnum):
    """What there is a row for."""

    MEMBER = "member"
    CHARGER = "charger"
    MONTH = "month"
    DAY = "day"
    HOUR = "hour"


@dataclass(slots=True)
class _Emitted:
    energy_wh: int = 0
    missing_wh: Decimal = Decimal(0)
    mg: Decimal = Decimal(0)


async def _run(central: Central, asked: Asked) -> Report:
    by, site, period, zone = By(asked.values["by"]), asked.site, asked.period, ZoneInfo(asked.site.time_zone)
    factors = await central.emissions.between(site.id, period.start, period.end)
    short = any(factor.to_at - factor.from_at < timedelta(hours=1) for factor in factors)
    step_s = 900 if short or offset_s(period, zone) % 3600 else 3600
    edges = steps(period, zone, step_s)
    bounds, shift_s = seconds(edges), offset_s(period, zone) % step_s
    shown = {By.MONTH: "%Y-%m", By.DAY: "%Y-%m-%d", By.HOUR: "%Y-%m-%dT%H:00%z"}.get(by)
    found: defaultdict[str | None, _Emitted] = defaultdict(_Emitted)
    labels = [f"{edge.astimezone(zone):{shown}}" for edge in edges[:-1]] if shown else []
    for label in labels:
        found[label].energy_wh += 0
    async with central.database.read() as connection:
        of = {By.MEMBER: Of.MEMBER, By.CHARGER: Of.STATION}.get(by)
        called = {} if of is None else await names(connection, site.id, of)
        orphans = await orphan_note(connection, site.id, period)
        wanted = overlapping(site.id, period.start, period.end)
        energies: defaultdict[tuple[str | None, int], int] = defaultdict(int)
        async for session in charged(connection, wanted, central.clock.now(), step_s, shift_s):
            whose = session.member_id if by is By.MEMBER else session.station_id
            for piece in cut(session, bounds):
                energies[labels[piece.place] if shown else whose, piece.place] += piece.energy_wh
    for (key, place), energy_wh in energies.items():
        mg, missing_wh = emitted(factors, edges[place], edges[place + 1], energy_wh)
        into = found[key]
        into.energy_wh += energy_wh
        into.missing_wh += missing_wh
        into.mg += mg
    total = _Emitted()
    for each in found.values():
        total.energy_wh += each.energy_wh
        total.missing_wh += each.missing_wh
        total.mg += each.mg
    rows = [
        (key, _row(key or "", NOBODY[Of.MEMBER] if key is None else called.get(key, key), each))
        for key, each in found.items()
    ]
    if not shown:
        rows.sort(key=lambda row: (natural(str(row[1]["name"])), row[0] or ""))
    notes = [*NOTES, *orphans]
    if total.missing_wh:
        notes.append(f"Without a factor: {_whole(total.missing_wh)} of {total.energy_wh} Wh.")
    if not factors:
        notes.append(f"There are no factors for this time: PUT /v1/sites/{site.id}/emission-factors.")
    return Report(
        id=ID,
        title=f"{TITLE} by {by}",
        about=asked.about,
        columns=COLUMNS,
        items=tuple(row for key, row in rows if key is not None),
        unknown=tuple(row for key, row in rows if key is None),
        totals=(_row("", "Total", total),),
        notes=tuple(notes),
        chart=Bars(
            f"{TITLE} by {by}",
            "kg",
            tuple(str(row["name"]) for _, row in rows),
            (("CO2 equivalent", tuple(float(each.mg) / 1e6 for each in _in_order(found, rows))),),
        ),
    )


def _in_order(found: dict[str | None, _Emitted], rows: list[tuple[str | None, Row]]) -> list[_Emitted]:
    return [found[key] for key, _ in rows]


def _row(key: str, name: str, each: _Emitted) -> Row:
    covered_wh = Decimal(each.energy_wh) - each.missing_wh
    mean = None if covered_wh <= 0 else (each.mg / covered_wh).quantize(Decimal("0.1"), ROUND_HALF_UP)
    row: dict[str, Cell] = {
        "id": key,
        "name": name,
        "energy_wh": each.energy_wh,
        "missing_wh": _whole(each.missing_wh),
        "co2_g": _whole(each.mg / 1000),
        "g_per_kwh": mean,
    }
    return row


def _whole(value: Decimal) -> int:
    return int(value.to_integral_value(ROUND_HALF_UP))


KIND = ReportKind(
    id=ID,
    title=TITLE,
    about="Grams of CO2 by the factors uploaded for the site, and how much energy has no factor.",
    run=_run,
    columns=COLUMNS,
    parameters=(
        Parameter(
            name="by",
            title="A row for each",
            ask=Ask.CHOICE,
            about="what there is a row for",
            choices=tuple(By),
            default=By.MEMBER,
        ),
    ),
    longest_days=400,
)
