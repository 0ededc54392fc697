"""Sends the messages that are due, and keeps what came of them."""

import asyncio
import logging
from collections.abc import Mapping
from datetime import datetime

from csms.alarms import message, repository
from csms.alarms.alarm import Alarm
from csms.alarms.channels import Channel, Letter
from csms.alarms.deliveries import Delivery, DeliveryState, after_failure, after_success
from csms.alarms.routes import ChannelKind
from csms.alarms.service import AlarmsService
from csms.clock import Clock
from csms.errors import MessageFault
from csms.store.database import Connection, Database
from csms.tasks import Tasks

log = logging.getLogger(__name__)

AT_ONCE = 20
LOOK_EVERY_S = 10.0


class Deliveries:
    """One loop: what time brings about, then what is due. A channel that fails holds up no other."""

    def __init__(
        self, database: Database, clock: Clock, channels: Mapping[ChannelKind, Channel], tasks: Tasks
    ) -> None:
        self._database = database
        self._clock = clock
        self._channels = channels
        self._tasks = tasks
        self._wake = asyncio.Event()

    def wake(self) -> None:
        self._wake.set()

    def start(self, alarms: AlarmsService) -> None:
        self._tasks.spawn(self._loop(), "messages of alarms")
        self._tasks.spawn(self._sweeps(alarms), "sweep of alarms")

    async def send_due(self) -> int:
        """Send what is due now; how many messages were tried."""
        now = self._clock.now()
        async with self._database.read() as connection:
            due = await repository.due_deliveries(connection, now, AT_ONCE)
        await asyncio.gather(*(self._send(*each, now) for each in due))
        return len(due)

    async def _loop(self) -> None:
        while True:
            self._wake.clear()
            while await self.send_due():
                pass
            try:
                async with asyncio.timeout(LOOK_EVERY_S):
                    await self._wake.wait()
            except TimeoutError:
                continue

    async def _sweeps(self, alarms: AlarmsService) -> None:
        while True:
            await self._clock.sleep(LOOK_EVERY_S)
            try:
                await alarms.sweep()
            except Exception:
                log.exception("alarms could not be looked through; tried again")

    async def _send(self, delivery: Delivery, alarm: Alarm, secret: str, now: datetime) -> None:
        try:
            letter = await self._letter(delivery, alarm, secret)
            await self._channels[delivery.channel].send(letter)
        except MessageFault as fault:
            kept = after_failure(delivery, str(fault), now)
            if kept.state is DeliveryState.GIVEN_UP:
                log.warning("gave up telling %s of alarm %s: %s", delivery.address, alarm.id, fault)
        except Exception as error:
            log.exception("telling %s of alarm %s failed", delivery.address, alarm.id)
            kept = after_failure(delivery, f"our fault: {type(error).__name__}", now)
        else:
            kept = after_success(delivery, now)

        async def work(connection: Connection) -> None:
            await repository.keep_delivery(connection, kept)

        await self._database.writer.run(work)

    async def _letter(self, delivery: Delivery, alarm: Alarm, secret: str) -> Letter:
        async with self._database.read() as connection:
            site, zone, charger = await repository.place_of(connection, alarm.site_id, alarm.station_id)
        where = charger or alarm.circuit_id or site or alarm.thing
        if charger and alarm.evse and alarm.evse > 1:
            where = f"{charger} / {alarm.evse}"
        place = message.Place(site, zone, where)
        return Letter(
            id=f"alarm-{alarm.id}-{delivery.id}",
            address=delivery.address,
            secret=secret,
            subject=message.subject(alarm, place, delivery.occasion),
            text=message.text(alarm, place, delivery.occasion),
            body=message.body(alarm, place, delivery.occasion),
        )
