"""Rows of readings, on both databases."""

from datetime import timedelta

from csms.clock import ManualClock
from csms.metering import repository
from csms.metering.series import Point, Source
from csms.stations.model import Reading, ReadingContext
from csms.stations.signed import SignedValue
from csms.store.database import Database


def full(clock: ManualClock) -> Reading:
    return Reading(
        at=clock.now(),
        context=ReadingContext.CLOCK,
        register_wh=12_345_678,
        power_w=10_923.0,
        current_a=(15.912, 15.803, None),
        voltage_v=(229.4, 231.1, 230.0),
        line_power_w=(3650.0, 3652.0, 3621.0),
        offered_a=16.0,
        temperature_c=-4.5,
        soc_percent=43.5,
        signed=(SignedValue("OCMF|{}|{}", "OCMF|{}|{}"),),
        others=(("Frequency", "", "Hertz", "49.98"),),
    )


async def test_a_reading_is_read_as_it_was_written(database: Database, clock: ManualClock) -> None:
    reading = full(clock)
    empty = Reading(at=clock.now() + timedelta(minutes=1))
    await database.writer.add(
        repository.change("YARD-01", 1, 7, reading), repository.change("YARD-01", None, 7, empty)
    )
    async with database.read() as connection:
        page = await repository.samples(connection, 7, after=None, limit=10)
    assert [stored.reading for stored in page.items] == [reading, empty]
    assert [(s.station_id, s.evse, s.session_id) for s in page.items] == [
        ("YARD-01", 1, 7),
        ("YARD-01", None, 7),
    ]


async def test_what_no_integer_holds_is_left_out_and_the_rest_kept(
    database: Database, clock: ManualClock
) -> None:
    wild = Reading(
        at=clock.now(),
        register_wh=10**30,
        power_w=float("inf"),
        current_a=(1e12, float("nan"), 6.0),
        soc_percent=-1e300,
        signed=(SignedValue("a\x00b", ""),),
        others=(("x\x00", "", "", "1"),),
    )
    await database.writer.add(repository.change("YARD-01", 1, 7, wild))
    async with database.read() as connection:
        page = await repository.samples(connection, 7, after=None, limit=10)
    (stored,) = page.items
    assert stored.reading == Reading(
        at=clock.now(),
        current_a=(None, None, 6.0),
        signed=(SignedValue("ab", "ab"),),
        others=(("x", "", "", "1"),),
    )


async def test_what_was_told_before_is_not_stored_again(database: Database, clock: ManualClock) -> None:
    reading = full(clock)
    other = Reading(at=clock.now(), register_wh=1)
    await database.writer.add(repository.change("YARD-01", 1, 7, reading))
    rows = [
        repository.values("YARD-01", None, 7, reading),
        repository.values("YARD-01", 1, 7, other),
        repository.values("YARD-01", 1, 7, other),
    ]
    async with database.write() as connection:
        fresh = await repository.not_yet_stored(connection, 7, rows)
        assert fresh == rows[1:2]
        assert len(await repository.not_yet_stored(connection, 8, rows)) == 2
        assert await repository.not_yet_stored(connection, 7, []) == []
        await repository.add(connection, fresh)
        await repository.add(connection, [])
        assert await repository.not_yet_stored(connection, 7, rows) == []


async def test_registers_and_newest_times_of_sessions(database: Database, clock: ManualClock) -> None:
    first, later = clock.now(), clock.now() + timedelta(minutes=5)
    await database.writer.add(
        repository.change("YARD-01", 1, 7, Reading(at=first, register_wh=100)),
        repository.change("YARD-01", 1, 7, Reading(at=later, register_wh=200, context=ReadingContext.END)),
        repository.change("YARD-01", 1, 7, Reading(at=first, power_w=1.0)),
        repository.change("YARD-01", 1, 8, Reading(at=first, register_wh=1)),
    )
    async with database.read() as connection:
        assert set(await repository.points(connection, 7)) == {
            Point(first, 100, Source.SAMPLE),
            Point(later, 200, Source.END_SAMPLE),
        }
        assert await repository.newest(connection, [7, 8, 9]) == {7: later, 8: first}
        assert await repository.newest(connection, []) == {}


def test_the_end_of_a_transaction_ranks_above_samples() -> None:
    assert repository.source_of(ReadingContext.END) is Source.END_SAMPLE
    assert repository.source_of(ReadingContext.PERIODIC) is Source.SAMPLE
