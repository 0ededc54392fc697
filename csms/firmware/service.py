"""Firmware and logs put together."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from csms.clock import Clock
from csms.cluster.relay import Relay
from csms.firmware.campaign_service import Campaigns
from csms.firmware.file_service import Files
from csms.firmware.image_service import FirmwareImages
from csms.firmware.log_service import StationLogs
from csms.sessions.service import SessionsService
from csms.stations.asking import Commands
from csms.stations.service import StationsService
from csms.store.database import Database
from csms.tasks import Tasks

MB = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class FirmwareSettings:
    """`folder`: for images and logs; sizes in MB. `web` tells where stations reach our web."""

    folder: Path
    largest_image_mb: int
    largest_log_mb: int
    web: Callable[[], str]


class Firmware:
    """`images`, `campaigns`, `logs`."""

    def __init__(
        self,
        database: Database,
        clock: Clock,
        settings: FirmwareSettings,
        stations: StationsService,
        sessions: SessionsService,
        commands: Commands,
        tasks: Tasks,
    ) -> None:
        self._tasks = tasks
        self._settings = settings
        images = Files(settings.folder / "firmware", settings.largest_image_mb * MB)
        logs = Files(settings.folder / "logs", settings.largest_log_mb * MB)
        self.images = FirmwareImages(database, clock, images)
        self.logs = StationLogs(database, clock, stations, commands, logs, self._address("logs"))
        self.campaigns = Campaigns(
            database, clock, stations, sessions, commands, tasks, self._address("firmware")
        )

    def follow(self, relay: Relay) -> None:
        relay.follow("station.", self.campaigns.fact)
        relay.follow("station.log", self.logs.fact)

    def start(self) -> None:
        self._tasks.spawn(self.campaigns.watch(), "firmware campaigns")

    def _address(self, kind: str) -> Callable[[str], str]:
        return lambda token: f"{self._settings.web()}/files/{kind}/{token}"
