"""Who may connect, which socket counts, and how often a sign of life is written down."""

from collections.abc import Awaitable, Callable
from datetime import timedelta
from typing import Any

import pytest

from csms.clock import ManualClock
from csms.errors import NotFound
from csms.gateway import ports
from csms.stations.commands import CommandResult, CommandStatus, Trigger, TriggerKind
from csms.stations.journal.service import CommandJournal
from csms.stations.model import Registration
from csms.stations.service import StationsService
from csms.stations.sockets.service import MOST_WAITING, Caller, SocketsService
from csms.store.database import Database
from tests.conftest import NOON

Facts = Callable[[str], Awaitable[list[dict[str, Any]]]]
SECOND = timedelta(seconds=1)


@pytest.fixture
def welcoming(database: Database, clock: ManualClock, journal: CommandJournal) -> SocketsService:
    return SocketsService(database, clock, journal, accept_unknown=True)


async def test_who_is_known_may_connect(sockets: SocketsService, bay: str) -> None:
    assert await sockets.identify(bay) == Caller(bay, Registration.ACCEPTED, None, names=(bay,))


@pytest.mark.parametrize("identity", ["BAY-99", "", "BAY:01", "nul\0", "x" * 500])
async def test_who_is_not_known_may_not(sockets: SocketsService, bay: str, identity: str) -> None:
    assert await sockets.identify(identity) is None
    with pytest.raises(NotFound):
        await sockets.connected(identity[:48].replace("\0", ""), "ocpp1.6", NOON)


async def test_every_socket_has_a_higher_epoch(
    sockets: SocketsService, stations: StationsService, bay: str, facts: Facts
) -> None:
    assert await sockets.connected(bay, "ocpp1.6", NOON) == 1
    station = await stations.get(bay)
    assert (station.connected, station.protocol, station.presence_at) == (True, "ocpp1.6", NOON)
    assert station.last_seen_at == NOON
    assert await sockets.lost(bay, 1, NOON + SECOND, "closed")
    assert not (await stations.get(bay)).connected
    assert await sockets.connected(bay, "ocpp2.0.1", NOON + 2 * SECOND) == 2
    assert (await stations.get(bay)).protocol == "ocpp2.0.1"
    told = await facts("station.")
    assert [(fact["topic"], fact["station"]) for fact in told] == [
        ("station.created", "Bay 1"),
        ("station.connected", "Bay 1"),
        ("station.lost", "Bay 1"),
        ("station.connected", "Bay 1"),
    ]
    assert told[2]["reason"] == "closed"


async def test_the_end_of_an_older_socket_changes_nothing(
    sockets: SocketsService, stations: StationsService, bay: str, facts: Facts
) -> None:
    old = await sockets.connected(bay, "ocpp1.6", NOON)
    new = await sockets.connected(bay, "ocpp1.6", NOON + SECOND)
    assert not await sockets.lost(bay, old, NOON + 2 * SECOND)
    station = await stations.get(bay)
    assert (station.connected, station.epoch, station.presence_at) == (True, new, NOON + SECOND)
    assert await facts("station.lost") == []
    assert [fact["replaced"] for fact in await facts("station.connected")] == [False, True]
    assert await sockets.lost(bay, new, NOON + 3 * SECOND)
    assert not await sockets.lost(bay, new, NOON + 4 * SECOND)
    assert len(await facts("station.lost")) == 1


async def test_after_a_restart_no_socket_stands(
    sockets: SocketsService, stations: StationsService, bay: str, facts: Facts
) -> None:
    await stations.create(id="BAY-02")
    epoch = await sockets.connected(bay, "ocpp1.6", NOON)
    assert await sockets.all_lost() == 1
    assert await sockets.all_lost() == 0
    assert not (await stations.get(bay)).connected
    assert [fact["subject"] for fact in await facts("station.lost")] == [bay]
    assert await sockets.connected(bay, "ocpp1.6", NOON) == epoch + 1


async def test_a_sign_of_life_is_written_once_a_minute(
    sockets: SocketsService, stations: StationsService, bay: str, database: Database
) -> None:
    await sockets.connected(bay, "ocpp1.6", NOON)
    commits = database.writer.pieces
    for second in range(1, 60):
        await sockets.seen(bay, NOON + second * SECOND)
    assert database.writer.pieces == commits
    await sockets.seen(bay, NOON + 60 * SECOND)
    assert database.writer.pieces == commits + 1
    assert (await stations.get(bay)).last_seen_at == NOON + 60 * SECOND


async def test_an_unknown_station_may_wait_where_that_is_wanted(
    welcoming: SocketsService, stations: StationsService, facts: Facts
) -> None:
    assert await welcoming.identify("NEW-1") == Caller("NEW-1", Registration.PENDING, None, names=("NEW-1",))
    assert (await stations.list()).items == ()
    await welcoming.connected("NEW-1", "ocpp1.6", NOON)
    waiting = await stations.get("NEW-1")
    assert (waiting.registration, waiting.site_id) == (Registration.PENDING, None)
    assert [fact["topic"] for fact in await facts("station.")] == ["station.waiting", "station.connected"]


async def test_a_waiting_station_is_taken_up_by_creating_it(
    welcoming: SocketsService, stations: StationsService
) -> None:
    await welcoming.connected("NEW-1", "ocpp1.6", NOON)
    made = await stations.create(id="NEW-1", name="Bay 9", site_id="weavers-yard", circuit_id="supply")
    assert (made.registration, made.site_id) == (Registration.ACCEPTED, "weavers-yard")
    assert (made.connected, made.epoch, made.protocol) == (True, 1, "ocpp1.6")


async def test_not_everybody_can_wait(welcoming: SocketsService) -> None:
    for number in range(MOST_WAITING):
        await welcoming.connected(f"NEW-{number}", "ocpp1.6", NOON)
    assert await welcoming.identify("ONE-TOO-MANY") is None
    assert await welcoming.identify("NEW-0") is not None


async def test_who_comes_back_is_asked_for_its_status(
    sockets: SocketsService, stations: StationsService, bay: str
) -> None:
    assert await sockets.questions_after_connect(bay) == (Trigger(TriggerKind.STATUS),)
    await stations.update(bay, registration=Registration.PENDING)
    assert await sockets.questions_after_connect(bay) == ()
    assert await sockets.questions_after_connect("BAY-99") == ()


async def test_who_knows_no_triggers_is_not_asked_for_a_month(
    sockets: SocketsService, journal: CommandJournal, bay: str, clock: ManualClock
) -> None:
    # OCPP 1.6: NotImplemented, which the translator reports as unsupported.
    asked = await journal.asked(bay, Trigger(TriggerKind.STATUS))
    await journal.answered(asked, CommandResult(CommandStatus.UNSUPPORTED, "NotImplemented"))
    assert await sockets.questions_after_connect(bay) == ()
    clock.advance(31 * 24 * 3600)
    assert await sockets.questions_after_connect(bay) == (Trigger(TriggerKind.STATUS),)


def test_the_gateway_can_use_it(sockets: SocketsService, journal: CommandJournal) -> None:
    # For mypy: the services fit what the gateway asks for.
    needed: tuple[ports.Stations, ports.Journal] = (sockets, journal)
    assert needed == (sockets, journal)
