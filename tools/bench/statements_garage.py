"""An invented large garage for the benchmark of statements, its rows written by the database's driver."""

import random
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

from sqlalchemy import insert

from csms.app import Central
from csms.clock import ManualClock
from csms.ledger.pool import Key
from csms.ledger.statement import Issuer
from csms.ledger.terms import Terms
from csms.settings import Settings
from csms.sites.model import System
from csms.store.tables.access import member, token
from csms.store.tables.ledger import ownership
from csms.store.tables.stations import station

SITE = "garage"
MONTH = "2026-01"
START = datetime(2025, 12, 31, 23, tzinfo=UTC)
END = datetime(2026, 1, 31, 23, tzinfo=UTC)
STATIONS = 500
MARKUP_MICRO_PER_MWH = 50_000_000
TARIFF: dict[str, object] = {
    "currency": "EUR",
    "elements": [{"price_components": [{"type": "ENERGY", "price": 1, "vat": 19, "step_size": 1}]}],
    "phaseyard": {"components": [{"type": "SPOT", "feed": "hub", "markup_per_kwh": Decimal("0.05")}]},
}


@dataclass(frozen=True, slots=True)
class Garage:
    """`document_id`: the one that tells the prices."""

    central: Central
    path: Path
    document_id: str
    sessions: int
    readings: int


def price_micro(quarter: int) -> int:
    """Millionths of a euro per MWh of a quarter of the month; above zero."""
    return 40_000_000 + (quarter * 7919) % 90_000_000


async def build(folder: Path, members: int, sessions: int) -> Garage:
    """All records and rows, every session priced by plain sums."""
    path = folder / "garage.db"
    clock = ManualClock(START)
    central = Central(Settings(database_url=f"sqlite+aiosqlite:///{path}"), clock)
    await central.database.open()
    await central.sites.create_site(
        id=SITE, name="Garage", time_zone="Europe/Berlin", currency="EUR", system=System.TN_400
    )
    issuer = Issuer(name="Garage association", tax_id="DE1", country="DE")
    await central.ledger.billing.set_terms(SITE, Terms(issuer=issuer, first_month=MONTH))
    await _records(central, members)
    await central.market.create_feed(id="hub", name="Hub", currency="EUR")
    taken = await central.market.take_in("hub", _prices(), "prices")
    await central.tariffs.create(id="spot", site_id=SITE, name="Spot", document=TARIFF)
    await central.tariffs.assign("spot", site_id=SITE)
    for n, key in enumerate((Key.KWH, Key.EQUAL, Key.DAYS)):
        await central.ledger.pools.create(
            id=f"pool-{n}",
            site_id=SITE,
            name=f"Invoice {n}",
            amount_minor=1_234_567,
            vat_minor=234_568,
            vat_percent=Decimal(19),
            currency="EUR",
            period_start=date(2026, 1, 1),
            period_end=date(2026, 2, 1),
            key=key,
        )
    readings = _write(path, members, sessions)
    clock.advance((END - START).total_seconds() + 86_400)
    return Garage(central, path, taken.document.id, sessions, readings)


async def _records(central: Central, members: int) -> None:
    since = START - timedelta(days=30)
    async with central.database.write() as connection:
        await connection.execute(
            insert(member),
            [
                {
                    "id": f"m-{n:04}",
                    "site_id": SITE,
                    "kind": "flat",
                    "name": f"Flat {n}",
                    "active": True,
                    "created_at": since,
                }
                for n in range(members)
            ],
        )
        await connection.execute(
            insert(token),
            [
                {
                    "id": f"t-{n:04}",
                    "folded": f"card{n}",
                    "text": f"CARD{n}",
                    "kind": "rfid",
                    "member_id": f"m-{n:04}",
                    "blocked": False,
                    "created_at": since,
                }
                for n in range(members)
            ],
        )
        await connection.execute(
            insert(ownership),
            [
                {
                    "id": f"o-{n:04}",
                    "site_id": SITE,
                    "token_id": f"t-{n:04}",
                    "member_id": f"m-{n:04}",
                    "created_at": since,
                }
                for n in range(members)
            ],
        )
        await connection.execute(
            insert(station),
            [
                {"id": f"s-{n:03}", "site_id": SITE, "registration": "accepted", "created_at": since}
                for n in range(STATIONS)
            ],
        )


def _prices() -> bytes:
    lines = ["timestamp,price,unit"]
    quarters = int((END - START) / timedelta(minutes=15))
    for n in range(quarters):
        price = Decimal(price_micro(n)).scaleb(-6)
        lines.append(f"{(START + n * timedelta(minutes=15)).isoformat()},{price},EUR/MWh")
    return "\n".join(lines).encode()


def _write(path: Path, members: int, sessions: int) -> int:
    """Sessions one after another on each station, a reading on every quarter of an hour within."""
    database = sqlite3.connect(path)
    readings = 0
    with database:
        for batch in _batches(members, sessions):
            database.executemany(
                "INSERT INTO session (id, station_id, site_id, evse, state, token_id, token_text, member_id, "
                "verdict, started_at, ended_at, arrived_at, register_start_wh, register_stop_wh, energy_wh, "
                "marks, tariff_id, currency, cost_excl_minor, cost_incl_minor) "
                f"VALUES (?, ?, '{SITE}', 1, 'ended', ?, ?, ?, 'accepted', ?, ?, ?, ?, ?, ?, '{{}}', 'spot', "
                "'EUR', ?, ?)",
                [row for row, _ in batch],
            )
            told = [row for _, rows in batch for row in rows]
            readings += len(told)
            database.executemany(
                "INSERT INTO reading (station_id, evse, session_id, at, context, register_wh) "
                "VALUES (?, 1, ?, ?, 'clock', ?)",
                told,
            )
    database.close()
    return readings


Row = tuple[object, ...]


def _batches(members: int, sessions: int) -> Iterator[list[tuple[Row, list[Row]]]]:
    rnd = random.Random(7)
    slot_s = int((END - START).total_seconds()) * STATIONS // sessions
    number = 0
    for place in range(STATIONS):
        register, batch = rnd.randrange(10**7), []
        for slot in range(sessions // STATIONS):
            number += 1
            start = slot * slot_s + rnd.randrange(900)
            end = start + slot_s - 1800
            batch.append(_session(number, f"s-{place:03}", rnd.randrange(members), start, end, register, rnd))
            register = int(str(batch[-1][0][9]))
        yield batch


def _session(
    number: int, place: str, who: int, start: int, end: int, register: int, rnd: random.Random
) -> tuple[Row, list[Row]]:
    """The row of a session with its price, and its readings."""
    begin, exact, told = register, 0, list[Row]()
    at = start
    while at < end:
        upto = min(end, (at // 900 + 1) * 900)
        drawn = rnd.randrange(400, 2700) * (upto - at) // 900
        register += drawn
        exact += drawn * (price_micro(at // 900) + MARKUP_MICRO_PER_MWH)
        if upto < end:
            told.append((place, number, _written(upto), register))
        at = upto
    net = (2 * exact + 10**10) // (2 * 10**10)
    gross = (2 * exact * 119 + 10**12) // (2 * 10**12)
    row = (
        number,
        place,
        f"t-{who:04}",
        f"CARD{who}",
        f"m-{who:04}",
        _written(start),
        _written(end),
        _written(start),
        begin,
        register,
        register - begin,
        net,
        gross,
    )
    return row, told


def _written(second: int) -> str:
    """As the database keeps an instant."""
    return f"{(START + timedelta(seconds=second)).replace(tzinfo=None).isoformat(' ')}.000000"
