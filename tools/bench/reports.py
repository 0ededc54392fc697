"""Reports over 100,000 sessions of one month, beside the same sums by hand-written SQL in the same run.

A site of 1,000 members and 100 chargers; sessions of five hours with a register every half hour, a
tenth of them over midnight, in SQLite. `energy by member` and `use` are added up in the database; `by
hour` cuts every session at every hour. Each figure is the time that one report takes, its JSON
included, in processor time of the whole process.
"""

import random
import tempfile
import time
import tracemalloc
from collections.abc import Awaitable, Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import insert, text

from api.reports import REPORTS
from api.reports.period import period_of
from csms.app import Central
from csms.metering.emissions.factor import series
from csms.settings import load_settings
from csms.store.tables.access import member
from csms.store.tables.metering import circuit_reading, reading
from csms.store.tables.sessions import session
from csms.store.tables.sites import circuit, site
from csms.store.tables.stations import station

SESSIONS, MEMBERS, STATIONS = 100_000, 1_000, 100
READINGS, STEP = 11, timedelta(minutes=30)
START = datetime(2026, 10, 31, 23, tzinfo=UTC)
SITE, MONTH, ZONE = "yard", "2026-11", "Europe/Brussels"
CHUNK = 5_000

BY_MEMBER = """
SELECT member_id, count(*), sum(energy_wh), sum(cost_excl_minor), sum(cost_incl_minor) FROM session
WHERE site_id = 'yard' AND ended_at >= '2026-10-31 23:00' AND ended_at < '2026-11-30 23:00'
GROUP BY member_id ORDER BY member_id
"""
BY_HOUR = """
SELECT strftime('%Y-%m-%d %H', at), sum(gained) FROM (
  SELECT at, register_wh - lag(register_wh) OVER (PARTITION BY session_id ORDER BY at) AS gained
  FROM reading WHERE session_id IN (SELECT id FROM session WHERE site_id = 'yard')
) WHERE at >= '2026-10-31 23:00' AND at < '2026-11-30 23:00' GROUP BY 1 ORDER BY 1
"""
USE = """
SELECT station_id, count(*), sum(strftime('%s', ended_at) - strftime('%s', started_at)) FROM session
WHERE site_id = 'yard' AND ended_at > '2026-10-31 23:00' AND started_at < '2026-11-30 23:00'
GROUP BY station_id
"""
CASES: tuple[tuple[str, str, dict[str, str], str], ...] = (
    ("month by member", "month", {"by": "member"}, BY_MEMBER),
    ("energy by member", "energy", {"by": "member"}, BY_MEMBER),
    ("use of the chargers", "utilisation", {}, USE),
    ("energy by hour", "energy", {"by": "hour"}, BY_HOUR),
    ("CO2 by month", "co2", {"by": "month"}, BY_HOUR),
)


async def fill(central: Central, sessions: int, members: int, stations: int) -> None:
    """The month, made up from a fixed seed."""
    draw = random.Random(7)
    async with central.database.write() as connection:
        made = {"created_at": START}
        await connection.execute(
            insert(site).values(
                id=SITE,
                name="Weavers' Yard",
                time_zone=ZONE,
                currency="EUR",
                system="TN-400",
                active=False,
                **made,
            )
        )
        await connection.execute(
            insert(circuit).values(
                id="main",
                site_id=SITE,
                name="Supply",
                limit_l1_ma=125_000,
                limit_l2_ma=125_000,
                limit_l3_ma=125_000,
                meter={"counts": "total", "period_s": 10},
            )
        )
        await connection.execute(
            insert(member),
            [
                {"id": f"flat-{n}", "site_id": SITE, "kind": "flat", "name": f"Flat {n + 1}", "active": True}
                | made
                for n in range(members)
            ],
        )
        await connection.execute(
            insert(station),
            [
                {"id": f"BAY-{n:03d}", "site_id": SITE, "circuit_id": "main", "registration": "accepted"}
                | made
                for n in range(stations)
            ],
        )
    for low in range(0, sessions, CHUNK):
        rows, registers = [], []
        for number in range(low + 1, min(low + CHUNK, sessions) + 1):
            start = START + timedelta(seconds=draw.randrange(29 * 86_400))
            register_wh = draw.randrange(10**7)
            steps = [draw.choice((0, 0, 900, 1_840, 3_680)) for _ in range(READINGS - 1)]
            energy_wh = sum(steps)
            rows.append(
                {
                    "id": number,
                    "station_id": f"BAY-{draw.randrange(stations):03d}",
                    "site_id": SITE,
                    "evse": 1,
                    "state": "ended",
                    "verdict": "accepted",
                    "member_id": f"flat-{draw.randrange(members)}",
                    "started_at": start,
                    "ended_at": start + STEP * (READINGS - 1),
                    "arrived_at": start,
                    "energy_wh": energy_wh,
                    "marks": {},
                    "currency": "EUR",
                    "cost_excl_minor": energy_wh // 40,
                    "cost_incl_minor": energy_wh // 33,
                }
            )
            for place in range(READINGS):
                at = start + STEP * place
                registers.append(
                    {
                        "station_id": rows[-1]["station_id"],
                        "evse": 1,
                        "session_id": number,
                        "at": at,
                        "context": "periodic",
                        "register_wh": register_wh + sum(steps[:place]),
                    }
                )
        async with central.database.write() as connection:
            await connection.execute(insert(session), rows)
            await connection.execute(insert(reading), registers)
    await central.emissions.put(SITE, series(START, timedelta(hours=1), [100 + n % 24 for n in range(720)]))


async def fill_meter(central: Central, days: int) -> None:
    """The building's meter, a row a minute: nights low, evenings high, an hour without readings."""
    draw = random.Random(8)
    rows = []
    for minute in range(days * 1440):
        at = START + timedelta(minutes=minute)
        hour = (minute % 1440) / 60
        if 30 * 60 <= minute < 31 * 60:
            continue
        level = 25 + 45 * max(0.0, 1 - abs(hour - 19) / 4)
        row: dict[str, Any] = {"circuit_id": "main", "at": at, "counts": "total"}
        for line, factor in ((1, 1.0), (2, 0.8), (3, 0.6)):
            row[f"current_l{line}_ma"] = int(1000 * (level * factor + draw.uniform(-4, 4)))
        rows.append(row)
    async with central.database.write() as connection:
        await connection.execute(insert(circuit_reading), rows)


async def make(central: Central, name: str, **given: str) -> Any:
    """A report of the month as JSON values."""
    [kind] = [kind for kind in REPORTS if kind.id == name]
    where = await central.sites.get_site(SITE)
    period = period_of(None, None, MONTH, ZoneInfo(ZONE))
    return await kind.run(central, kind.asked(where, period, given))


async def _timed(work: Callable[[], Awaitable[Any]]) -> tuple[float, Any]:
    before = time.process_time()
    result = await work()
    return time.process_time() - before, result


async def main() -> None:
    """Print both, and the ratio."""
    with tempfile.TemporaryDirectory() as folder:
        central = Central(load_settings(data_dir=Path(folder)))
        await central.database.open()
        try:
            await fill(central, SESSIONS, MEMBERS, STATIONS)
            print(f"Reports of {SESSIONS:,} sessions, {SESSIONS * READINGS:,} registers: processor seconds")
            for title, name, given, sql in CASES:

                async def ours(name: str = name, given: dict[str, str] = given) -> Any:
                    return (await make(central, name, **given)).as_json()

                async def bare(sql: str = sql) -> Any:
                    async with central.database.read() as connection:
                        return (await connection.execute(text(sql))).all()

                await ours()
                seconds, document = await _timed(ours)
                await bare()
                base, rows = await _timed(bare)
                assert document["items"]
                assert rows
                print(f"  {title:<22}{seconds:7.2f}   by hand {base:6.2f}   {seconds / base:5.1f} times")
            tracemalloc.start()
            await make(central, "energy", by="hour")
            print(f"  most memory, by hour  {tracemalloc.get_traced_memory()[1] / 1e6:7.0f} MB")
            tracemalloc.stop()
        finally:
            await central.tasks.close()
            await central.database.close()
