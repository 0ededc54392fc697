"""Certificates in the database."""

from datetime import timedelta

from csms.clock import ManualClock
from csms.security import repository
from csms.security.repository import StationCertificate
from csms.store.database import Database
from tests.csms.yard import BAY_1


async def test_the_soonest_to_end_comes_first(yard: Database, clock: ManualClock) -> None:
    now = clock.now()

    def made(number: int, days: int) -> StationCertificate:
        return StationCertificate(
            station_id=BAY_1,
            use=f"use-{number}",
            state="signed",
            common_name=BAY_1,
            serial_number=f"{number:x}",
            chain_pem="",
            not_after=now + timedelta(days=days),
            signed_at=now,
        )

    async with yard.write() as connection:
        for number, days in ((1, 20), (2, 10), (3, 400)):
            key = await repository.add(connection, made(number, days))
            await repository.installed(connection, key, BAY_1, f"use-{number}")
        ending = await repository.ending(connection, now + timedelta(days=30))
    assert [each.serial_number for each in ending] == ["2", "1"]
