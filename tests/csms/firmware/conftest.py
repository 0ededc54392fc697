"""Images, campaigns and logs at the small Weavers' Yard, with stations that answer what a test says."""

import hashlib
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Any

import pytest

from csms.clock import ManualClock
from csms.errors import StationError
from csms.firmware.campaign_service import Campaigns
from csms.firmware.file_service import Files
from csms.firmware.image import Image
from csms.firmware.image_service import FirmwareImages
from csms.firmware.log_service import StationLogs
from csms.metering.service import ReadingsService
from csms.sessions.service import SessionsService
from csms.sites.service import SitesService
from csms.stations.commands import Command, CommandResult, CommandStatus
from csms.stations.journal.service import CommandJournal
from csms.stations.service import StationsService
from csms.stations.sockets.service import SocketsService
from csms.store.database import Database
from csms.tasks import Tasks
from tests.csms.yard import BAY_1, BAY_2, VAN_1, build_yard

FIRMWARE = b"spindle" * 100
SHA256 = hashlib.sha256(FIRMWARE).hexdigest()
Answer = CommandResult | StationError
ACCEPTED = CommandResult(CommandStatus.ACCEPTED)


async def parts(data: bytes, size: int = 64) -> AsyncIterator[bytes]:
    for start in range(0, len(data), size):
        yield data[start : start + size]


class Talkative:
    """Answers ACCEPTED, unless a test has another answer for a kind of command."""

    def __init__(self) -> None:
        self.asked: list[tuple[str, Command]] = []
        self.answers: dict[type[Any], Callable[[str], Answer]] = {}

    async def ask(self, station_id: str, command: Command, *, asked_by: str = "") -> CommandResult:
        self.asked.append((station_id, command))
        answers = self.answers.get(type(command))
        answer: Answer = ACCEPTED if answers is None else answers(station_id)
        if isinstance(answer, StationError):
            raise answer
        return answer

    def told(self, kind: type[Any]) -> list[str]:
        """Stations that were asked for that, in order."""
        return [station_id for station_id, command in self.asked if isinstance(command, kind)]


@pytest.fixture
async def yard(database: Database, clock: ManualClock) -> Database:
    await build_yard(database)
    sockets = SocketsService(database, clock, CommandJournal(database, clock))
    for station_id in (BAY_1, BAY_2, VAN_1):
        await sockets.connected(station_id, "1.6", clock.now())
    return database


@pytest.fixture
def commands() -> Talkative:
    return Talkative()


@pytest.fixture
async def tasks() -> AsyncIterator[Tasks]:
    made = Tasks()
    yield made
    await made.close()


@pytest.fixture
def stations(yard: Database, clock: ManualClock) -> StationsService:
    return StationsService(yard, clock, SitesService(yard, clock))


@pytest.fixture
def images(yard: Database, clock: ManualClock, tmp_path: Path) -> FirmwareImages:
    return FirmwareImages(yard, clock, Files(tmp_path / "firmware", 10_000))


@pytest.fixture
async def image(images: FirmwareImages) -> Image:
    made = await images.create(id="weft-2", version="2.0")
    return await images.take(made.id, parts(FIRMWARE), SHA256)


@pytest.fixture
def logs(
    yard: Database, clock: ManualClock, stations: StationsService, commands: Talkative, tmp_path: Path
) -> StationLogs:
    files = Files(tmp_path / "logs", 1000)
    return StationLogs(
        yard, clock, stations, commands, files, lambda token: f"http://yard/files/logs/{token}"
    )


@pytest.fixture
def campaigns(
    yard: Database, clock: ManualClock, stations: StationsService, commands: Talkative, tasks: Tasks
) -> Campaigns:
    sessions = SessionsService(yard, clock, ReadingsService(yard), None, None)  # type: ignore[arg-type]
    return Campaigns(yard, clock, stations, sessions, commands, tasks, lambda token: f"http://yard/{token}")
