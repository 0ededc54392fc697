"""Carries campaigns out: who is next, told; what stations tell, kept; stopped when too many fail.

All is on disk, so a restart goes on where it was. A station is updated only where nobody charges: it
is taken out of use first, looked at again, and put back when its update is over.
"""

import asyncio
import logging
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import time
from zoneinfo import ZoneInfo

from csms.clock import Clock
from csms.errors import Conflict, InvalidInput, PhaseyardError, StationError, StationSilent
from csms.firmware import repository
from csms.firmware.campaign import Campaign, CampaignEvent, CampaignState, check_campaign, follow
from csms.firmware.image import Image
from csms.firmware.update import OVER, RUNNING, Update, UpdateState, booted, heard, too_silent
from csms.firmware.waves import failed, in_hours, is_over, next_stations, too_many_failed
from csms.ids import new_id
from csms.sessions.service import SessionsService
from csms.stations.asking import Commands
from csms.stations.commands import SetAvailability
from csms.stations.record import Station
from csms.stations.service import StationsService
from csms.stations.words.firmware import UpdateFirmware
from csms.store.database import Connection, Database
from csms.store.fact import Fact
from csms.store.outbox import put
from csms.store.paging import Page
from csms.tasks import Tasks

log = logging.getLogger(__name__)

LOOK_EVERY_S = 15.0


class Campaigns:
    """`address` makes the URL that a station fetches from, of an image's token. Raises NotFound, Conflict,
    InvalidInput."""

    def __init__(
        self,
        database: Database,
        clock: Clock,
        stations: StationsService,
        sessions: SessionsService,
        commands: Commands,
        tasks: Tasks,
        address: Callable[[str], str],
    ) -> None:
        self._database = database
        self._clock = clock
        self._stations = stations
        self._sessions = sessions
        self._commands = commands
        self._tasks = tasks
        self._address = address
        self._turn = asyncio.Lock()
        self._to_put_back: set[str] = set()
        self._wake = asyncio.Event()

    async def create(
        self,
        *,
        site_id: str,
        image_id: str,
        station_ids: Sequence[str] = (),
        canaries: int = 2,
        at_once: int = 5,
        from_local: time = time(0),
        to_local: time = time(0),
        most_failed: float = 0.1,
        look_after: int = 5,
        by: str = "",
        id: str | None = None,
    ) -> Campaign:
        """A campaign, not yet begun. `station_ids` empty: all of the site that the image fits and that do not
        run it."""
        now = self._clock.now()
        campaign = check_campaign(
            Campaign(
                id=new_id("roll") if id is None else id,
                site_id=site_id,
                image_id=image_id,
                canaries=canaries,
                at_once=at_once,
                from_local=from_local,
                to_local=to_local,
                most_failed=most_failed,
                look_after=look_after,
                created_at=now,
                created_by=by,
            )
        )
        async with self._database.read() as connection:
            image = await repository.get_image(connection, image_id)
            await repository.zone_of(connection, site_id)
        if not image.complete:
            raise InvalidInput("image_id", "the file of this image has not come yet")
        there = {station.id: station for station in await self._stations.stations_of(site_id)}
        chosen = self._chosen(image, there, station_ids)
        async with self._database.write() as connection:
            if busy := await repository.busy_elsewhere(connection, chosen):
                raise Conflict(f"another campaign is not done with {', '.join(busy[:5])}")
            await repository.insert_campaign(connection, campaign, chosen, now)
        return campaign

    def _chosen(self, image: Image, there: dict[str, Station], named: Sequence[str]) -> tuple[str, ...]:
        for station_id in named:
            if station_id not in there:
                raise InvalidInput("station_ids", f"there is no {station_id} at this site")
            if not _fits(image, there[station_id]):
                raise InvalidInput("station_ids", f"the image does not fit {station_id}")
        fitting = [station.id for station in there.values() if _fits(image, station)]
        chosen = [
            station_id
            for station_id in dict.fromkeys(named or fitting)
            if there[station_id].firmware != image.version
        ]
        if not chosen:
            raise InvalidInput("station_ids", "none of them needs this image")
        return tuple(chosen)

    async def get(self, campaign_id: str) -> tuple[Campaign, tuple[Update, ...]]:
        """The campaign and how far each station is."""
        async with self._database.read() as connection:
            campaign = await repository.get_campaign(connection, campaign_id)
            return campaign, await repository.updates_of(connection, campaign_id)

    async def list(
        self, *, site_id: str | None = None, after: str | None = None, limit: int = 50
    ) -> Page[Campaign]:
        async with self._database.read() as connection:
            return await repository.list_campaigns(connection, site_id, after=after, limit=limit)

    async def start(self, campaign_id: str) -> Campaign:
        """Begin, or go on after a pause or a stop; what has failed until now does not stop it again."""
        updates = (await self.get(campaign_id))[1]
        return await self._turn_to(campaign_id, CampaignEvent.START, forgiven=failed(updates))

    async def pause(self, campaign_id: str) -> Campaign:
        """Tell no further station; updates under way go on."""
        return await self._turn_to(campaign_id, CampaignEvent.PAUSE)

    async def cancel(self, campaign_id: str) -> Campaign:
        """End it; stations that wait are left as they are."""
        campaign = await self._turn_to(campaign_id, CampaignEvent.CANCEL)
        async with self._database.write() as connection:
            await repository.skip_waiting(connection, campaign_id, self._clock.now())
        return campaign

    async def fact(self, _number: int, fact: Fact) -> None:
        """Follower of `station.`: words about firmware, boots, connections."""
        if fact.topic == "station.firmware":
            told = fact.body.get("told") or {}
            state, number = str(told.get("state") or ""), told.get("request_id")
            await self._move(fact.subject, lambda each, _w: heard(each, state, self._clock.now()), number)
        elif fact.topic == "station.booted":
            version = str(fact.body.get("firmware") or "")
            await self._move(fact.subject, lambda each, want: booted(each, version, want, self._clock.now()))
        elif fact.topic in ("station.connected", "station.status"):
            if fact.topic == "station.connected" and fact.subject in self._to_put_back:
                self._tasks.spawn(self._put_back(fact.subject), f"{fact.subject} back into use")
            self._wake.set()

    async def watch(self) -> None:
        """Look again and again, for ever."""
        while True:
            self._wake.clear()
            try:
                await self.look()
            except PhaseyardError:
                log.exception("campaigns could not be carried on; tried again")
            try:
                async with asyncio.timeout(LOOK_EVERY_S):
                    await self._wake.wait()
            except TimeoutError:
                continue

    async def look(self) -> None:
        """One look at every running campaign."""
        async with self._turn:
            async with self._database.read() as connection:
                running = await repository.running_campaigns(connection)
            for campaign in running:
                await self._carry_on(campaign)

    async def _carry_on(self, campaign: Campaign) -> None:
        now = self._clock.now()
        async with self._database.read() as connection:
            image = await repository.get_image(connection, campaign.image_id)
            zone = await repository.zone_of(connection, campaign.site_id)
            updates = list(await repository.updates_of(connection, campaign.id))
        for number, update in enumerate(updates):
            if (changed := too_silent(update, now)) is not update:
                updates[number] = changed
                await self._keep(changed)
                await self._put_back(changed.station_id)
        if too_many_failed(campaign, updates):
            await self._stop(campaign, updates)
            return
        if is_over(updates):
            await self._turn_to(campaign.id, CampaignEvent.FINISH)
            return
        if not in_hours(campaign, now.astimezone(ZoneInfo(zone))):
            return
        idle = await self._idle(campaign.site_id)
        chosen = set(next_stations(campaign, updates, idle))
        told = [self._begin(update, image) for update in updates if update.station_id in chosen]
        await asyncio.gather(*told)

    async def _idle(self, site_id: str) -> frozenset[str]:
        """Connected stations at which no car is plugged in."""
        busy = {session.station_id for session in await self._sessions.open_sessions(site_id)}
        stations = await self._stations.stations_of(site_id)
        return frozenset(each.id for each in stations if each.connected and each.id not in busy)

    async def _begin(self, update: Update, image: Image) -> None:
        now = self._clock.now()
        station_id = update.station_id
        try:
            await self._commands.ask(station_id, SetAvailability(False))
            if await self._plugged_in(station_id):
                # Somebody was quicker: it is this one's turn again when the car is gone.
                await self._put_back(station_id)
                return
            await self._keep(replace(update, state=UpdateState.ASKED, changed_at=now))
            command = UpdateFirmware(
                request_id=update.request_id,
                location=self._address(image.token),
                retrieve_at=now,
                signing_certificate=image.signing_certificate,
                signature=image.signature,
            )
            result = await self._commands.ask(station_id, command)
        except StationSilent as error:
            await self._over(update, UpdateState.UNKNOWN, str(error))
            return
        except StationError:
            # It went off line: it is asked when it is back.
            await self._keep(replace(update, state=UpdateState.WAITING, changed_at=now))
            return
        if not result.accepted:
            await self._over(update, UpdateState.FAILED, result.detail or result.status.value)

    async def _plugged_in(self, station_id: str) -> bool:
        station = await self._stations.get(station_id)
        running = await self._sessions.open_sessions(station.site_id)
        return any(session.station_id == station_id for session in running)

    async def _over(self, update: Update, state: UpdateState, detail: str) -> None:
        await self._keep(replace(update, state=state, detail=detail, changed_at=self._clock.now()))
        await self._put_back(update.station_id)
        self._wake.set()

    async def _move(
        self, station_id: str, turn: Callable[[Update, str], Update], number: object = None
    ) -> None:
        async with self._database.read() as connection:
            found = await repository.heard_updates(connection, station_id)
            fitting = [each for each in found if number in (None, 0, each.request_id)]
            if not fitting:
                return
            campaign = await repository.get_campaign(connection, fitting[0].campaign_id)
            image = await repository.get_image(connection, campaign.image_id)
        before = fitting[0]
        changed = turn(before, image.version)
        if changed == before:
            return
        await self._keep(changed)
        if changed.state in OVER and before.state in RUNNING:
            await self._put_back(station_id)
        self._wake.set()

    async def _put_back(self, station_id: str) -> None:
        """Into use again; one that cannot hear it now is asked when it connects."""
        self._to_put_back.discard(station_id)
        try:
            await self._commands.ask(station_id, SetAvailability(True))
        except StationError as error:
            self._to_put_back.add(station_id)
            log.warning("%s could not be put back into use: %s", station_id, error)

    async def _stop(self, campaign: Campaign, updates: Sequence[Update]) -> None:
        await self._turn_to(campaign.id, CampaignEvent.FAIL)
        body = {
            "campaign": campaign.id,
            "failed": failed(updates),
            "of": sum(update.state in OVER for update in updates),
        }
        fact = Fact(
            topic="firmware.stopped",
            at=self._clock.now(),
            site_id=campaign.site_id,
            subject=campaign.id,
            body=body,
        )
        async with self._database.write() as connection:
            await put(connection, fact)

    async def _turn_to(
        self, campaign_id: str, event: CampaignEvent, *, forgiven: int | None = None
    ) -> Campaign:
        async with self._database.write() as connection:
            campaign = await repository.get_campaign(connection, campaign_id, lock=True)
            campaign = replace(campaign, state=follow(campaign.state, event))
            if forgiven is not None:
                campaign = replace(campaign, forgiven=forgiven)
            await repository.update_campaign(connection, campaign)
        if campaign.state is CampaignState.RUNNING:
            self._wake.set()
        return campaign

    async def _keep(self, update: Update) -> None:
        async def work(connection: Connection) -> None:
            await repository.keep_update(connection, update)

        await self._database.writer.run(work)


def _fits(image: Image, station: Station) -> bool:
    def same(wanted: str, told: str) -> bool:
        return not wanted or wanted.casefold() == told.casefold()

    return same(image.vendor, station.vendor) and same(image.model, station.model)
