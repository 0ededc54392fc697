"""Answers what stations tell of transactions, after the commit, and always."""

import logging
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from functools import partial

from csms.dispatch import Dispatcher
from csms.metering.service import ReadingsService
from csms.sessions import intake, repository
from csms.sessions.filing_service import Filed, Filing
from csms.sessions.lanes_service import Lane, Lanes
from csms.sessions.live import Live, LiveStation
from csms.sessions.news import Follower, SessionNews
from csms.sessions.station_clock import is_right, mend_readings, mend_report
from csms.stations.events import MetersReported, StatusReported
from csms.stations.model import ChargingState, EvseStatus, Reading
from csms.stations.questions import TransactionAnswer, TransactionReported, TransactionStep
from csms.store.database import Connection, Database

log = logging.getLogger(__name__)

CONDITIONS = {
    EvseStatus.CHARGING: ChargingState.CHARGING,
    EvseStatus.SUSPENDED_EV: ChargingState.SUSPENDED_EV,
    EvseStatus.SUSPENDED_EVSE: ChargingState.SUSPENDED_EVSE,
}
"""What an EVSE's status says of the car (OCPP 1.6; 2.x tells it with the transaction)."""


class SessionHandlers:
    """Owner of TransactionReported and MetersReported; listens to StatusReported."""

    def __init__(self, database: Database, filing: Filing, lanes: Lanes, readings: ReadingsService) -> None:
        self._database = database
        self._filing = filing
        self._lanes = lanes
        self._readings = readings
        self._followers: list[Follower] = []

    def register(self, dispatcher: Dispatcher) -> None:
        dispatcher.handle(TransactionReported, self.transaction)
        dispatcher.handle(MetersReported, self.meters)
        dispatcher.listen(StatusReported, self.status)

    def follow(self, follower: Follower) -> None:
        """Call `follower` with what happens to sessions, after the commit. It must be quick."""
        self._followers.append(follower)

    async def transaction(
        self, station_id: str, report: TransactionReported, now: datetime
    ) -> TransactionAnswer:
        """File a step. What cannot be filed is kept for a person, and answered as if it were."""
        report = intake.clean(report)
        lane = self._lanes.of(station_id)
        async with lane.lock:
            try:
                station = lane.station or await self._lanes.fill(lane)
                live = station.by_transaction.get(report.transaction_id or "")
                if live is not None and _brings_only_readings(report, live):
                    mended, offset = mend_readings(report.readings, lane.clock_offset, now)
                    if offset is None and await self._quick(lane, live, mended, report.sequence):
                        return TransactionAnswer(live.transaction_id)
                if live is not None and report.charging is None and live.seems_to_start(report.readings):
                    report = replace(report, charging=ChargingState.CHARGING)
                return (await self._file(lane, report, now)).answer
            except Exception:
                lane.station = None
                log.exception("a step of station %s could not be filed: %r", station_id, report)
                return await self._keep(station_id, report, now)
            except BaseException:
                # The socket went while we wrote: what was committed is for the database to say.
                lane.station = None
                raise

    async def meters(self, station_id: str, event: MetersReported, now: datetime) -> None:
        """Keep readings, and the energy of the session that they belong to."""
        if not event.readings:
            return
        lane = self._lanes.of(station_id)
        async with lane.lock:
            try:
                station = lane.station or await self._lanes.fill(lane)
                readings, offset = mend_readings(event.readings, lane.clock_offset, now)
                transaction_id = intake.clean_id(event.transaction_id)
                since = min(reading.at for reading in readings) if len(readings) > 1 else readings[0].at
                live = station.owner(transaction_id, event.evse, since)
                if live is not None and offset is None and await self._quick(lane, live, readings, None):
                    return
                lane.clock_offset = offset
                await self._meters_slowly(lane, live, transaction_id, event.evse, readings, now)
            except Exception:
                lane.station = None
                log.exception("readings of station %s could not be filed: %r", station_id, event)
                await self._orphan(station_id, event.readings[0].at, event, now)
            except BaseException:
                lane.station = None
                raise

    async def status(self, station_id: str, event: StatusReported, now: datetime) -> None:
        """What an EVSE's status says of the car that charges there."""
        charging = CONDITIONS.get(event.status)
        if charging is None:
            return
        try:
            async with self._lanes.lane(station_id) as (lane, station):
                live = _at(station, event.evse)
                if live is None or live.charging is charging:
                    return
                at = event.at if event.at is not None and is_right(event.at, now) else now
                changed = await self._database.writer.run(
                    partial(
                        self._filing.change_charging,
                        session_id=live.session_id,
                        charging=charging,
                        at=max(at, live.started_at),
                        held=live.evse in lane.held,
                    )
                )
                if changed is not None:
                    station.put(changed)
                    self._tell(changed.news())
        except Exception:
            log.exception("the status of %s did not reach its session", station_id)

    async def _quick(self, lane: Lane, live: Live, readings: Sequence[Reading], sequence: int | None) -> bool:
        """The short way of readings: one insert each and one update, no query. False: not this time."""
        standing = live.after(readings, sequence)
        if standing is None:
            return False
        changes = self._readings.changes(live.station_id, live.evse, live.session_id, readings)
        await self._database.writer.add(*changes, repository.measured(live, standing))
        live.standing = standing
        lane.clock_offset = None
        if self._followers:
            self._tell(live.news(readings[-1] if readings else None))
        return True

    async def _meters_slowly(
        self,
        lane: Lane,
        live: Live | None,
        transaction_id: str | None,
        evse: int | None,
        readings: tuple[Reading, ...],
        now: datetime,
    ) -> None:
        known_evse = evse if evse == 0 else intake.clean_evse(evse)
        if live is None and not intake.named(transaction_id):
            await self._database.writer.add(
                *self._readings.changes(lane.station_id, known_evse, None, readings)
            )
            return
        flows = live is not None and live.seems_to_start(readings)
        report = TransactionReported(
            step=TransactionStep.UPDATED,
            transaction_id=live.transaction_id if live is not None else transaction_id,
            at=readings[0].at,
            evse=intake.clean_evse(evse),
            readings=readings,
            charging=ChargingState.CHARGING if flows else None,
        )

        async def work(connection: Connection) -> Filed | None:
            return await self._filing.file_readings(
                connection,
                lane.station_id,
                known_evse,
                report,
                now,
                clock_off=lane.clock_offset is not None,
                held=frozenset(lane.held),
            )

        filed = await self._database.writer.run(work)
        if filed is not None:
            self._take(lane, filed, readings[-1])

    async def _file(self, lane: Lane, report: TransactionReported, now: datetime) -> Filed:
        key = intake.start_key(report) if report.transaction_id is None else None
        mended, offset = mend_report(report, lane.clock_offset, now)
        lane.clock_offset = offset

        async def work(connection: Connection) -> Filed:
            return await self._filing.file(
                connection,
                lane.station_id,
                mended,
                now,
                start_key=key,
                clock_off=offset is not None,
                held=frozenset(lane.held),
            )

        try:
            filed = await self._database.writer.run(work)
        except Exception:
            # Another node may have filed the same step just now: look again, once.
            log.warning("a step of station %s is tried again", lane.station_id, exc_info=True)
            filed = await self._database.writer.run(work)
        self._take(lane, filed, mended.readings[-1] if mended.readings else None)
        return filed

    async def _keep(self, station_id: str, report: TransactionReported, now: datetime) -> TransactionAnswer:
        await self._orphan(station_id, report.at, report, now)
        return TransactionAnswer(report.transaction_id or "0")

    async def _orphan(self, station_id: str, at: datetime, told: object, now: datetime) -> None:
        """The last resort. If even this fails the station is not answered and says it again."""
        reason = "could not be filed; see the log"
        document = intake.body(told)

        async def work(connection: Connection) -> None:
            await repository.add_orphan(connection, station_id, at, now, reason, document)

        await self._database.writer.run(work)

    def _take(self, lane: Lane, filed: Filed, reading: Reading | None) -> None:
        lane.take(filed)
        if filed.live is not None:
            self._tell(filed.live.news(reading, filed.began))
        elif filed.session is not None:
            session = filed.session
            self._tell(
                SessionNews(
                    session.id,
                    session.station_id,
                    session.evse,
                    session.transaction_id or str(session.id),
                    session.state,
                    session.charging,
                    session.energy_wh,
                    session.member_id,
                    reading,
                    filed.began,
                )
            )

    def _tell(self, news: SessionNews) -> None:
        for follower in self._followers:
            try:
                follower(news)
            except Exception:
                log.exception("a follower of sessions failed")


def _brings_only_readings(report: TransactionReported, live: Live) -> bool:
    return (
        report.step is TransactionStep.UPDATED
        and report.token is None
        and (report.charging is None or report.charging is live.charging)
        and (report.evse is None or report.evse == live.evse)
    )


def _at(station: LiveStation, evse: int) -> Live | None:
    live = station.at_evse(evse)
    return live if live is not None and live.evse == evse else None
