"""Keeps quirks, finds a station's, and tells of those that its numbers betray."""

import logging
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from csms.stations import repository as stations
from csms.stations.events import MetersReported
from csms.stations.model import Reading
from csms.stations.presence import clean
from csms.stations.questions import TransactionReported
from csms.stations.quirks import repository
from csms.stations.quirks.quirk import Quirk, check, most_exact
from csms.stations.quirks.suspicion import Proposal, Suspicion
from csms.store.database import Connection, Database

log = logging.getLogger(__name__)


class Quirks:
    """A station's quirk is remembered until it boots or quirks change."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._all: tuple[Quirk, ...] | None = None
        self._changes = 0
        self._known: dict[str, Quirk | None] = {}
        self._suspicions: dict[tuple[str, int | None], Suspicion] = {}
        self._proposed: set[str] = set()

    async def of(self, station_id: str) -> Quirk | None:
        """What is to be put right in what the station says."""
        changes = self._changes
        quirks = self._all
        if quirks is None:
            quirks = await self.list()
            if changes == self._changes:
                self._all = quirks
        if not quirks or station_id in self._known:
            return self._known.get(station_id)
        async with self._database.read() as connection:
            station = await stations.find_station(connection, station_id)
        if station is None:
            return None
        found = most_exact(quirks, station.vendor, station.model, station.firmware)
        if changes == self._changes:
            self._known[station_id] = found
        return found

    async def list(self) -> tuple[Quirk, ...]:
        """All of them, the oldest first."""
        async with self._database.read() as connection:
            return await repository.all_quirks(connection)

    async def add(self, quirk: Quirk) -> Quirk:
        """Apply `quirk` from now on. Raises InvalidInput."""
        kept = check(
            replace(
                quirk,
                vendor=clean(quirk.vendor),
                model=clean(quirk.model),
                firmware=clean(quirk.firmware),
                note=clean(quirk.note),
            )
        )

        async def work(connection: Connection) -> int:
            return await repository.add_quirk(connection, kept)

        number = await self._database.writer.run(work)
        self._forget_all()
        return replace(kept, id=number)

    async def drop(self, quirk_id: int) -> None:
        """No longer apply it. What it has put right stays so. Raises NotFound."""

        async def work(connection: Connection) -> None:
            await repository.drop_quirk(connection, quirk_id)

        await self._database.writer.run(work)
        self._forget_all()

    async def assumes_16(self, station_id: str) -> bool:
        """Whether the station is taken to speak OCPP 1.6 when it names no version."""
        async with self._database.read() as connection:
            return await repository.assumes_16(connection, station_id)

    async def assume_16(self, station_id: str, assume: bool) -> None:
        """Raises NotFound."""

        async def work(connection: Connection) -> None:
            await stations.get_station(connection, station_id)
            await repository.assume_16(connection, self._database.dialect, station_id, assume)

        await self._database.writer.run(work)

    def _forget_all(self) -> None:
        """Quirks have changed. What is being looked up just now must not be remembered."""
        self._changes += 1
        self._all = None
        self._known.clear()

    def forget(self, station_id: str) -> None:
        """It has booted: another firmware may have another quirk."""
        self._changes += 1
        self._known.pop(station_id, None)

    async def readings_told(
        self, station_id: str, told: MetersReported | TransactionReported, now: datetime
    ) -> None:
        """Look whether units can be right (a listener)."""
        if not told.readings or station_id in self._proposed:
            return
        readings: Sequence[Reading] = told.readings
        proposal = self._suspicions.setdefault((station_id, told.evse), Suspicion()).look(readings)
        if proposal is None or await self.of(station_id) is not None:
            return
        self._proposed.add(station_id)
        await self._tell(station_id, proposal, now)

    async def _tell(self, station_id: str, proposal: Proposal, now: datetime) -> None:
        async def work(connection: Connection) -> None:
            station = await stations.find_station(connection, station_id)
            if station is not None:
                await stations.tell(
                    connection,
                    "station.quirk_proposed",
                    station,
                    now,
                    vendor=station.vendor,
                    model=station.model,
                    firmware=station.firmware,
                    ratio=round(proposal.ratio, 6),
                    **{proposal.name: proposal.factor},
                )

        await self._database.writer.run(work)
        log.warning("%s: %s %g would explain its numbers", station_id, proposal.name, proposal.factor)
