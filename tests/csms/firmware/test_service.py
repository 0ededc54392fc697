"""The parts together."""

from pathlib import Path

from csms.clock import ManualClock
from csms.firmware.service import Firmware, FirmwareSettings
from csms.sessions.service import SessionsService
from csms.stations.service import StationsService
from csms.store.database import Database
from csms.tasks import Tasks
from tests.csms.firmware.conftest import Talkative, parts


async def test_sizes_and_folders_are_those_of_the_settings(
    yard: Database,
    clock: ManualClock,
    stations: StationsService,
    commands: Talkative,
    tasks: Tasks,
    tmp_path: Path,
) -> None:
    settings = FirmwareSettings(
        folder=tmp_path, largest_image_mb=2, largest_log_mb=1, web=lambda: "https://yard.weavers.example"
    )
    sessions = SessionsService(yard, clock, None, None, None)  # type: ignore[arg-type]
    firmware = Firmware(yard, clock, settings, stations, sessions, commands, tasks)
    assert firmware.images._files.largest_bytes == 2_000_000
    assert firmware.logs._files.largest_bytes == 1_000_000
    assert firmware.campaigns._address("abc") == "https://yard.weavers.example/files/firmware/abc"
    await firmware.logs._files.take("x", parts(b"x"))
    assert firmware.logs._files.path("x") == tmp_path / "logs" / "x"
