"""Frames of the quarantine read once more, by the real quarantine and stations, and an owner of all."""

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from csms.clock import ManualClock
from csms.errors import Conflict, InvalidInput, NotFound
from csms.gateway.replay_service import Outcome, Replay
from csms.sites.service import SitesService
from csms.stations import repository as stations
from csms.stations.model import Registration
from csms.stations.quarantine.service import QuarantineService
from csms.stations.questions import TransactionReported
from csms.stations.quirks.quirk import Quirk
from csms.stations.quirks.service import Quirks
from csms.stations.record import Station
from csms.stations.service import StationsService
from csms.store.database import Database
from tests.csms.gateway.stage import Answerer

THEN = datetime(2026, 11, 12, 18, 0, tzinfo=UTC)
START = {"connectorId": 1, "idTag": "04DE", "meterStart": 700, "timestamp": "2026-11-12T17:59:00Z"}


class Bench:
    def __init__(self, database: Database) -> None:
        self.clock = ManualClock(THEN + timedelta(days=1))
        self.database = database
        self.quarantine = QuarantineService(database)
        self.quirks = Quirks(database)
        self.owners = Answerer(self.clock)
        service = StationsService(database, self.clock, SitesService(database, self.clock))
        self.replay = Replay(self.quarantine, service, self.owners, self.quirks, self.clock)

    async def station(self, protocol: str = "1.6") -> None:
        async with self.database.write() as connection:
            station = Station(id="s", registration=Registration.ACCEPTED, created_at=THEN)
            await stations.insert_station(connection, station)
            told = {"epoch": 1, "protocol": protocol, "last_seen_at": THEN}
            await stations.set_presence(connection, "s", at=THEN, connected=True, **told)

    async def put(self, frame: Any) -> int:
        raw = frame.encode() if isinstance(frame, str) else json.dumps(frame).encode()
        await self.quarantine.keep("s", raw, "why", THEN)
        return (await self.quarantine.list_frames("s")).items[0].id


@pytest.fixture
def bench(database: Database) -> Bench:
    return Bench(database)


async def test_a_frame_is_taken_as_heard_when_it_came_and_only_once(bench: Bench) -> None:
    await bench.station()
    number = await bench.put([2, "m", "StartTransaction", START])
    told = await bench.replay.replay("s", number)
    assert (told.outcome, told.action) == (Outcome.TAKEN, "StartTransaction")
    assert told.answer is not None
    assert told.answer["transactionId"] == 7
    (report,) = bench.owners.told
    assert isinstance(report, TransactionReported)
    assert report.register_wh == 700
    kept = await bench.quarantine.get("s", number)
    assert (kept.outcome, kept.replayed_at) == ("taken", bench.clock.now())
    with pytest.raises(Conflict):
        await bench.replay.replay("s", number)


async def test_a_quirk_that_was_added_meanwhile_is_put_right(bench: Bench) -> None:
    await bench.station()
    async with bench.database.write() as connection:
        told = {"vendor": "Weir", "model": "", "serial": "", "firmware": ""}
        await stations.set_boot(connection, "s", booted_at=THEN, last_seen_at=THEN, **told)
    await bench.quirks.add(Quirk(vendor="Weir", energy_factor=1000.0))
    number = await bench.put([2, "m", "StartTransaction", START])
    assert "quirk" in (await bench.replay.replay("s", number)).detail
    (report,) = bench.owners.told
    assert isinstance(report, TransactionReported)
    assert report.register_wh == 700_000


@pytest.mark.parametrize(
    "frame", ["Hello?", "[2]", '[3,"x",{}]', '[2,"m","Levitate",{}]', '[2,"m","StopTransaction",{}]']
)
async def test_what_still_makes_no_sense_stays_and_says_why(bench: Bench, frame: str) -> None:
    await bench.station()
    number = await bench.put(frame)
    told = await bench.replay.replay("s", number)
    assert told.outcome is Outcome.UNREADABLE
    assert told.detail
    assert bench.owners.told == []
    mended = await bench.replay.replay("s", number, json.dumps([2, "m", "StartTransaction", START]))
    assert mended.outcome is Outcome.TAKEN
    assert (await bench.quarantine.get("s", number)).frame.decode() == frame, "what came stays as it came"


async def test_what_cannot_be_kept_can_be_tried_again(bench: Bench) -> None:
    await bench.station()
    number = await bench.put([2, "m", "StartTransaction", START])
    bench.owners.fail = True
    assert (await bench.replay.replay("s", number)).outcome is Outcome.NOT_KEPT
    bench.owners.fail = False
    assert (await bench.replay.replay("s", number)).outcome is Outcome.TAKEN


async def test_questions_unknown_frames_and_unknown_versions_are_refused(bench: Bench) -> None:
    with pytest.raises(NotFound):
        await bench.replay.replay("s", 1)
    await bench.station(protocol="")
    number = await bench.put([2, "m", "Authorize", {"idTag": "x"}])
    with pytest.raises(Conflict):
        await bench.replay.replay("s", number)
    async with bench.database.write() as connection:
        told = {"epoch": 2, "protocol": "1.6", "last_seen_at": THEN}
        await stations.set_presence(connection, "s", at=THEN, connected=True, **told)
    with pytest.raises(InvalidInput):
        await bench.replay.replay("s", number)
    with pytest.raises(NotFound):
        await bench.replay.replay("s", number + 1)
