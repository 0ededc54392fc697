"""The yard's stations, and one that answers what a test says."""

from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Any

import pytest

from csms.clock import ManualClock
from csms.errors import StationError
from csms.security.authority import LocalAuthority
from csms.security.signer import LocalSigner
from csms.security.signing_service import CertificateSigning
from csms.security.tls_service import TlsFolder
from csms.sites.service import SitesService
from csms.stations.commands import Command, CommandResult, CommandStatus
from csms.stations.journal.service import CommandJournal
from csms.stations.service import StationsService
from csms.stations.sockets.service import SocketsService
from csms.store.database import Database
from csms.tasks import Tasks
from tests.csms.yard import BAY_1, build_yard

Answer = CommandResult | StationError
ACCEPTED = CommandResult(CommandStatus.ACCEPTED)


class Talkative:
    """Answers ACCEPTED, unless a test has another answer for a kind of command."""

    def __init__(self) -> None:
        self.asked: list[Command] = []
        self.answers: dict[type[Any], Callable[[Command], Answer]] = {}

    async def ask(self, station_id: str, command: Command, *, asked_by: str = "") -> CommandResult:
        self.asked.append(command)
        answers = self.answers.get(type(command))
        answer: Answer = ACCEPTED if answers is None else answers(command)
        if isinstance(answer, StationError):
            raise answer
        return answer

    @property
    def kinds(self) -> list[str]:
        return [type(command).__name__ for command in self.asked]


@pytest.fixture
def folder(tmp_path: Path, clock: ManualClock) -> TlsFolder:
    names = ("yard.weavers.example", "127.0.0.1")
    return TlsFolder(tmp_path, clock, names=names, organization="Weavers' Yard")


@pytest.fixture
def commands() -> Talkative:
    return Talkative()


@pytest.fixture
async def tasks() -> AsyncIterator[Tasks]:
    made = Tasks()
    yield made
    await made.close()


@pytest.fixture
async def yard(database: Database) -> Database:
    await build_yard(database)
    return database


@pytest.fixture
async def sockets(yard: Database, clock: ManualClock) -> SocketsService:
    """BAY_1 has connected with OCPP 2.0.1."""
    made = SocketsService(yard, clock, CommandJournal(yard, clock))
    await made.connected(BAY_1, "2.0.1", clock.now())
    return made


@pytest.fixture
def stations(yard: Database, clock: ManualClock, sockets: SocketsService) -> StationsService:
    return StationsService(yard, clock, SitesService(yard, clock))


@pytest.fixture
def signing(
    yard: Database, clock: ManualClock, stations: StationsService, commands: Talkative, tasks: Tasks
) -> CertificateSigning:
    authority = LocalAuthority.make("Weavers' Yard", clock.now())
    return CertificateSigning(
        yard, clock, stations, commands, tasks, lambda: LocalSigner(authority, "Weavers' Yard", clock)
    )
