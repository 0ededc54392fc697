"""Rows of a month."""

from datetime import UTC, datetime, timedelta

from sqlalchemy import insert, update

from csms.ledger.gathering import repository
from csms.store.tables.metering import reading
from csms.store.tables.sessions import session
from tests.csms.ledger.small_yard import SITE, START, SmallYard

END = datetime(2026, 1, 31, 23, tzinfo=UTC)
EVENING = datetime(2026, 1, 5, 18, tzinfo=UTC)


async def test_sessions_of_a_time_with_their_readings_and_the_one_before(small: SmallYard) -> None:
    early = await small.charge("a", START - timedelta(hours=5), 1000)
    over = await small.charge("a", START - timedelta(hours=1), 2000)
    inside = await small.charge("a", EVENING, 3000, told=[(EVENING + timedelta(hours=1), 1500)])
    await small.charge("a", END, 4000)
    async with small.central.database.read() as connection:
        rows = await repository.sessions_of(connection, SITE, START, END)
        assert [row.id for row in rows] == [over, inside]
        assert (rows[1].started, rows[1].energy_wh, rows[1].tariff) == (
            int(EVENING.timestamp()),
            3000,
            "Two a kWh",
        )
        assert rows[1].stop_seen
        assert not rows[1].marked
        before = await repository.last_before(connection, SITE, START)
        assert [row.id for row in before] == [early]
        told = await repository.registers_of(connection, SITE, START, END)
        assert told == {inside: [(int(EVENING.timestamp()) + 3600, 4000 + 1500)]}
        assert await repository.registers_of_few(connection, [inside, early]) == told
        assert len(await repository.signature_rows(connection, SITE, START, END)) == 2
        assert await repository.pauses_of(connection, [inside]) == {}
        assert await repository.signed_of(connection, SITE, START, END) == {}


async def test_neighbours_of_a_session_whose_stop_was_lost(small: SmallYard) -> None:
    lost = await small.charge("a", EVENING, 3000)
    await small.charge("a", EVENING + timedelta(hours=10), 1000)
    async with small.central.database.write() as connection:
        change = {"state": "closed", "register_stop_wh": None, "marks": {"no_stop_seen": True}}
        await connection.execute(update(session).where(session.c.id == lost).values(change))
        aligned = {"station_id": "bay-a", "context": "clock", "at": EVENING + timedelta(hours=3)}
        rows = [aligned | {"evse": 1, "register_wh": 4100}, aligned | {"evse": None, "register_wh": 4200}]
        await connection.execute(insert(reading), rows)
    async with small.central.database.read() as connection:
        (row, _) = await repository.sessions_of(connection, SITE, START, END)
        assert not row.stop_seen
        found = await repository.neighbours_of(connection, [row])
    assert [(each.source, each.register_wh) for each in found[lost]] == [
        ("next_session", 4000),
        ("clock_aligned", 4100),
        ("station_total", 4200),
    ]
    async with small.central.database.read() as connection:
        assert await repository.neighbours_of(connection, []) == {}


async def test_names_groups_and_addresses(small: SmallYard) -> None:
    group = await small.central.groups.create(site_id=SITE, name="Residents", id="residents")
    await small.central.groups.put_in(group.id, "a")
    await small.ledger.billing.set_address("b", ("Mill Lane 1",), "nb")
    async with small.central.database.read() as connection:
        assert await repository.groups_of(connection, SITE) == {"a": frozenset({"residents"})}
        assert await repository.labels_of(connection, SITE) == {"tok-a": "CARD-a", "tok-b": "CARD-b"}
        assert set(await repository.stations_of(connection, SITE)) == {"bay-a", "bay-b", "post"}
        first, second = await repository.members_of(connection, SITE)
    assert (first.id, first.lines) == ("a", None)
    assert (second.lines, second.language) == (["Mill Lane 1"], "nb")
