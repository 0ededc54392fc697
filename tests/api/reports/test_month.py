"""A month of Weavers' Yard, its sums made by hand, on both databases."""

import csv
import io
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from sqlalchemy import insert

from api.reports import REPORTS
from api.reports.month import By, month_report
from csms.clock import ManualClock
from csms.errors import InvalidInput, NotFound
from csms.sites.service import SitesService
from csms.store.database import Database
from csms.store.tables.sessions import session, session_pause
from tests.csms.yard import BAY_1, BAY_2, ELSEWHERE, FLAT_7, FLAT_12, SITE, VAN, VAN_1, build_yard

HOUR = timedelta(hours=1)
FIRST = datetime(2026, 10, 31, 23, tzinfo=UTC)
"""Midnight to 1 November in Brussels."""
LAST = datetime(2026, 11, 30, 23, tzinfo=UTC)


@pytest.fixture
async def central(database: Database, clock: ManualClock) -> Any:
    await build_yard(database)
    return SimpleNamespace(database=database, clock=clock, sites=SitesService(database, clock))


async def charged(
    database: Database,
    station_id: str,
    member_id: str | None,
    start: datetime,
    hours: float | None,
    energy_wh: int,
    cost: tuple[int, int | None] | None = None,
    *,
    marks: tuple[str, ...] = (),
    currency: str = "EUR",
    pauses: tuple[tuple[float, float | None, bool], ...] = (),
) -> int:
    """A session; `cost` in cents without and with VAT; `pauses` from and to in hours, and by us or not."""
    async with database.write() as connection:
        made = await connection.execute(
            insert(session)
            .values(
                station_id=station_id,
                site_id="mill" if station_id == ELSEWHERE else SITE,
                evse=1,
                state="charging" if hours is None else "ended",
                member_id=member_id,
                token_id=None if member_id is None else f"tok-{member_id}",
                started_at=start,
                ended_at=None if hours is None else start + hours * HOUR,
                arrived_at=start,
                energy_wh=energy_wh,
                marks={mark: {"at": "noon"} for mark in marks},
                tariff_id=cost and "yard",
                currency=cost and currency,
                cost_excl_minor=cost and cost[0],
                cost_incl_minor=cost and cost[1],
            )
            .returning(session.c.id)
        )
        session_id = int(made.scalar_one())
        for begin, end, by_us in pauses:
            await connection.execute(
                insert(session_pause).values(
                    session_id=session_id,
                    from_at=start + begin * HOUR,
                    to_at=None if end is None else start + end * HOUR,
                    by_us=by_us,
                )
            )
    return session_id


async def a_month(database: Database) -> None:
    """Energy 10 000 + 5 000 + 2 500 + 1 234 Wh; excl 250 + 125 + 60 cents; incl 300 + 150 + 60."""
    day = FIRST + timedelta(days=3)
    # Plugged in for 8 h; we held the car from hour 1 to 3, it was full from 2 to 4 and from 6 on.
    await charged(
        database,
        BAY_1,
        FLAT_12,
        day,
        8,
        10_000,
        (250, 300),
        pauses=((1, 3, True), (2, 4, False), (6, None, False)),
    )
    # Ends in November's first second; its beginning lies in October.
    await charged(database, BAY_2, FLAT_12, FIRST - HOUR, 1, 5_000, (125, 150), marks=("register_reset",))
    await charged(
        database, VAN_1, VAN, day, 0.5, 2_500, (60, None), marks=("register_reset", "no_start_seen")
    )
    await charged(database, BAY_2, None, day, 2, 1_234)
    # Not November's: ended in October, ended on 1 December, not ended, of another site.
    await charged(database, BAY_1, FLAT_7, FIRST - 2 * HOUR, 1.99, 77_000, (9999, 9999))
    await charged(database, BAY_1, FLAT_7, LAST - HOUR, 1, 88_000, (8888, 8888))
    await charged(database, BAY_2, FLAT_7, LAST - HOUR, None, 4_200)
    await charged(database, BAY_2, FLAT_7, LAST, None, 99)
    await charged(database, ELSEWHERE, None, day, 1, 66_000, (7777, 7777))


def by_id(rows: list[dict[str, Any]], *names: str) -> dict[str, tuple[Any, ...]]:
    return {row["id"]: tuple(row[name] for name in names) for row in rows}


async def test_by_member(central: Any) -> None:
    await a_month(central.database)
    document = (await month_report(central, SITE, "2026-11")).as_json()
    figures = ("name", "sessions", "energy_wh", "cost_excl", "vat", "cost_incl")
    assert by_id(document["items"], *figures) == {
        FLAT_12: ("flat 12", 2, 15_000, "3.75", "0.75", "4.50"),
        VAN: ("van a", 1, 2_500, "0.60", "0.00", "0.60"),
    }
    assert by_id(document["unknown"], *figures) == {
        "": ("Without a member", 1, 1_234, "0.00", "0.00", "0.00")
    }
    assert by_id(document["totals"], *figures) == {"": ("Total", 4, 18_734, "4.35", "0.75", "5.10")}
    # 8 h less 1-4 and 6-8 leave 3 h of charging, and the hour at bay 2.
    times = by_id(document["items"], "connected_s", "charging_s")
    assert times == {FLAT_12: (9 * 3600, 4 * 3600), VAN: (1800, 1800)}
    marks = by_id(document["items"], "marked", "marks", "vat_unknown", "unpriced")
    assert marks == {
        FLAT_12: (1, {"register_reset": 1}, 0, 0),
        VAN: (1, {"no_start_seen": 1, "register_reset": 1}, 1, 0),
    }
    [total] = document["totals"]
    assert (total["marked"], total["marks"]) == (2, {"no_start_seen": 1, "register_reset": 2})
    assert (total["unpriced"], total["vat_unknown"], total["currency"]) == (1, 1, "EUR")
    [running] = document["open_sessions"]
    assert (running["name"], running["energy_wh"], running["member_id"]) == ("YARD-02, flat 7", 4_200, FLAT_7)
    assert (document["from"], document["to"]) == (FIRST.isoformat(), LAST.isoformat())
    notes = " ".join(document["notes"])
    for words in ("month in which it ended", "without a price: 1", "does not tell the VAT: 1", "not over"):
        assert words in notes


async def test_the_sums_are_the_same_by_whatever_they_are_made(central: Any) -> None:
    await a_month(central.database)
    reports = [(await month_report(central, SITE, "2026-11", by)).as_json() for by in By]
    assert all(report["totals"] == reports[0]["totals"] for report in reports)
    assert [len(report["unknown"]) for report in reports] == [1, 1, 0, 0]
    for report in reports:
        rows = [*report["items"], *report["unknown"]]
        [total] = report["totals"]
        for name in ("sessions", "energy_wh", "connected_s", "charging_s", "unpriced", "marked"):
            assert sum(row[name] for row in rows) == total[name]
    by_token, by_station, by_site = reports[1:]
    assert by_id(by_token["items"], "name", "energy_wh") == {
        f"tok-{FLAT_12}": ("04A1B2C3D4", 15_000),
        f"tok-{VAN}": (f"tok-{VAN}", 2_500),
    }
    assert by_id(by_station["items"], "energy_wh") == {BAY_1: (10_000,), BAY_2: (6_234,), VAN_1: (2_500,)}
    assert by_id(by_site["items"], "name", "energy_wh") == {SITE: ("Weavers' Yard", 18_734)}


async def test_csv(central: Any) -> None:
    await a_month(central.database)
    report = await month_report(central, SITE, "2026-11", "member")
    rows = list(csv.DictReader(io.StringIO(report.as_csv())))
    assert [row["row"] for row in rows] == ["item", "item", "unknown", "total", "open"]
    assert rows[0]["id"] == FLAT_12
    assert rows[0]["cost_incl"] == "4.50"
    assert rows[1]["marks"] == "no_start_seen=1 register_reset=1"
    assert rows[3]["energy_wh"] == "18734"


async def test_an_empty_month_has_sums_of_nothing(central: Any) -> None:
    document = (await month_report(central, SITE, "2026-02")).as_json()
    assert document["items"] == []
    assert by_id(document["unknown"], "sessions", "cost_incl") == {"": (0, "0.00")}
    assert by_id(document["totals"], "sessions", "cost_incl") == {"": (0, "0.00")}
    assert "not over" not in " ".join(document["notes"])
    by_station = (await month_report(central, SITE, "2026-02", "station")).as_json()
    assert by_station["items"] == by_station["unknown"] == []
    assert by_id(by_station["totals"], "energy_wh", "cost_incl") == {"": (0, "0.00")}


async def test_currencies_are_not_added_together(central: Any) -> None:
    """ISO 4217: the yen has no minor unit."""
    day = FIRST + HOUR
    await charged(central.database, BAY_1, FLAT_12, day, 1, 1_000, (100, 120))
    await charged(central.database, BAY_1, FLAT_12, day, 1, 2_000, (100, 120), currency="JPY")
    document = (await month_report(central, SITE, "2026-11")).as_json()
    figures = [(row["currency"], row["energy_wh"], row["cost_incl"]) for row in document["totals"]]
    assert figures == [("EUR", 1_000, "1.20"), ("JPY", 2_000, "120")]
    assert len(document["items"]) == 2


async def test_pauses_outside_the_session_and_within_each_other(central: Any) -> None:
    await charged(
        central.database,
        BAY_1,
        FLAT_12,
        FIRST + HOUR,
        10,
        1_000,
        pauses=((-5, 1, True), (2, 6, True), (3, 4, False), (5, 7, False), (9, 20, True), (12, 13, False)),
    )
    [row] = (await month_report(central, SITE, "2026-11")).as_json()["items"]
    # Quiet from 0 to 1, 2 to 7 and 9 to 10: 7 of 10 hours.
    assert (row["connected_s"], row["charging_s"]) == (36_000, 3 * 3600)


async def test_bad_questions(central: Any) -> None:
    for month, by, field in (("2026-13", "member", "month"), ("2026-11", "colour", "by")):
        with pytest.raises(InvalidInput) as refused:
            await month_report(central, SITE, month, by)
        assert refused.value.field == field
    with pytest.raises(NotFound):
        await month_report(central, "moon", "2026-11")


def test_it_is_in_the_list() -> None:
    [kind] = [kind for kind in REPORTS if kind.id == "month"]
    [by] = kind.parameters
    assert by.choices == ("member", "token", "station", "site")
    assert {"energy_wh", "cost_excl", "vat", "cost_incl"} <= {column.name for column in kind.columns}
