"""Signs what stations ask for, delivers it, and has certificates renewed before they end.

A station asks (SignCertificate), we say that we pass it on, and the certificate follows by a command
of its own (CertificateSigned). The station never learns why nothing comes, so people are told.
(OCPP 2.0.1 A02, A03; security white paper for 1.6, section 3.)
"""

import logging
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

from csms.clock import Clock
from csms.errors import InvalidInput, PhaseyardError
from csms.security import repository
from csms.security.certificate import facts, read_pem
from csms.security.repository import StationCertificate
from csms.security.signer import Signer
from csms.stations.asking import Commands
from csms.stations.commands import Trigger, TriggerKind
from csms.stations.service import StationsService
from csms.stations.words.security import (
    CertificateAnswer,
    CertificateAsked,
    CertificateUse,
    DeliverCertificate,
)
from csms.store.database import Connection, Database
from csms.store.outbox import Fact, put
from csms.tasks import Tasks

log = logging.getLogger(__name__)

RENEW_AHEAD = timedelta(days=30)
LOOK_EVERY_S = 6 * 3600.0
SIGNED_HERE = frozenset({CertificateUse.STATION.value})
"""Certificates of charging by contract (ISO 15118) are for an authority of that trade."""


class CertificateSigning:
    """`signer` makes the one who signs; it is asked for when it is first needed."""

    def __init__(
        self,
        database: Database,
        clock: Clock,
        stations: StationsService,
        commands: Commands,
        tasks: Tasks,
        signer: Callable[[], Signer],
    ) -> None:
        self._database = database
        self._clock = clock
        self._stations = stations
        self._commands = commands
        self._tasks = tasks
        self._signer = signer

    async def certificate_asked(
        self, station_id: str, asked: CertificateAsked, _now: datetime
    ) -> CertificateAnswer:
        """Whether it is passed on (`csms.stations.told.deciders.Signer`). The rest follows the answer."""
        if asked.use not in SIGNED_HERE:
            return CertificateAnswer(False, "NoSuchService")
        self._tasks.spawn(self.carry_out(station_id, asked), f"certificate of {station_id}")
        return CertificateAnswer(True)

    async def carry_out(self, station_id: str, asked: CertificateAsked) -> bool:
        """Sign and deliver; whether the station has taken it. What fails is told to people."""
        station = await self._stations.get(station_id)
        names = [name for name in (station_id, station.serial, station.expected_serial) if name]
        try:
            issued = await self._signer().sign(asked.csr, names)
        except InvalidInput as error:
            await self._tell(station_id, station.site_id, f"its request is not signed: {error.problem}")
            return False
        shown = facts(read_pem("chain", issued.chain_pem))
        made = StationCertificate(
            station_id=station_id,
            use=asked.use,
            state="signed",
            common_name=shown.common_name,
            serial_number=shown.serial_number,
            chain_pem=issued.chain_pem,
            not_after=shown.not_after,
            signed_at=self._clock.now(),
        )

        async def write(connection: Connection) -> int:
            return await repository.add(connection, made)

        made = replace(made, id=await self._database.writer.run(write))
        command = DeliverCertificate(issued.chain_pem, CertificateUse(asked.use), asked.request_id)
        try:
            result = await self._commands.ask(station_id, command)
        except PhaseyardError as error:
            await self._refused(made, station.site_id, str(error))
            return False
        if not result.accepted:
            await self._refused(made, station.site_id, result.detail or result.status.value)
            return False

        async def installed(connection: Connection) -> None:
            await repository.installed(connection, made.id, station_id, made.use)
            fact = Fact(
                topic="station.certificate",
                at=self._clock.now(),
                site_id=station.site_id,
                subject=station_id,
                body={"serial_number": made.serial_number, "not_after": made.not_after.isoformat()},
            )
            await put(connection, fact)

        await self._database.writer.run(installed)
        return True

    async def certificates(self, station_id: str) -> tuple[StationCertificate, ...]:
        """What we signed for it, the newest first."""
        async with self._database.read() as connection:
            return await repository.of_station(connection, station_id)

    async def renew_due(self) -> int:
        """Ask stations whose certificate ends soon for a new request; how many were asked."""
        soon = self._clock.now() + RENEW_AHEAD
        async with self._database.read() as connection:
            ending = await repository.ending(connection, soon)
        asked = 0
        for each in ending:
            station = await self._stations.get(each.station_id)
            await self._ends(each, station.site_id)
            if not station.connected:
                continue
            try:
                await self._commands.ask(each.station_id, Trigger(TriggerKind.SIGN_STATION))
                asked += 1
            except PhaseyardError as error:
                log.warning("%s could not be asked to renew its certificate: %s", each.station_id, error)
        return asked

    async def watch(self) -> None:
        """Renew, for ever."""
        while True:
            await self.renew_due()
            await self._clock.sleep(LOOK_EVERY_S)

    async def _refused(self, made: StationCertificate, site_id: str | None, why: str) -> None:
        async def work(connection: Connection) -> None:
            await repository.refused(connection, made.id, why)

        await self._database.writer.run(work)
        await self._tell(made.station_id, site_id, f"it has not taken its certificate: {why}")

    async def _ends(self, made: StationCertificate, site_id: str | None) -> None:
        body = {"serial_number": made.serial_number, "not_after": made.not_after.isoformat()}
        await self._put(made.station_id, site_id, "station.certificate_ends", body)

    async def _tell(self, station_id: str, site_id: str | None, problem: str) -> None:
        await self._put(station_id, site_id, "station.certificate_failed", {"problem": problem})

    async def _put(self, station_id: str, site_id: str | None, topic: str, body: dict[str, str]) -> None:
        fact = Fact(topic=topic, at=self._clock.now(), site_id=site_id, subject=station_id, body=body)
        async with self._database.write() as connection:
            await put(connection, fact)
