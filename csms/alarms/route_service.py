"""Who is told of what: kept, listed, changed."""

import base64
import secrets
from dataclasses import replace
from typing import TypedDict, Unpack

from csms.alarms import repository
from csms.alarms.alarm import Severity
from csms.alarms.deliveries import Delivery
from csms.alarms.routes import ChannelKind, Route, check_route
from csms.clock import Clock
from csms.errors import InvalidInput
from csms.ids import new_id
from csms.store.database import Database
from csms.store.paging import Page

SECRET_BYTES = 24


class RouteChanges(TypedDict, total=False):
    """What may be changed of a route; what is left out stays."""

    address: str
    lowest: Severity
    after_s: int
    active: bool


class AlarmRoutes:
    """Keeps routes. Raises NotFound, InvalidInput."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    async def create(
        self,
        *,
        channel: ChannelKind,
        address: str,
        site_id: str | None = None,
        lowest: Severity = Severity.WARNING,
        after_s: int = 0,
    ) -> Route:
        """A new route. A webhook gets a secret (Standard Webhooks: `whsec_` and base 64)."""
        secret = "whsec_" + base64.b64encode(secrets.token_bytes(SECRET_BYTES)).decode()
        route = check_route(
            Route(
                id=new_id("alr"),
                site_id=site_id,
                channel=channel,
                address=address,
                lowest=lowest,
                after_s=after_s,
                secret=secret if channel is ChannelKind.WEBHOOK else "",
                created_at=self._clock.now(),
            )
        )
        async with self._database.write() as connection:
            if site_id is not None and (await repository.place_of(connection, site_id, None))[0] == "":
                raise InvalidInput("site_id", f"there is no site {site_id!r}")
            await repository.insert_route(connection, route)
        return route

    async def get(self, route_id: str) -> Route:
        async with self._database.read() as connection:
            return await repository.get_route(connection, route_id)

    async def list(
        self, *, site_id: str | None = None, after: str | None = None, limit: int = 50
    ) -> Page[Route]:
        """Of all, or those that a site's alarms can go to."""
        async with self._database.read() as connection:
            return await repository.list_routes(connection, site_id, after=after, limit=limit)

    async def update(self, route_id: str, **changes: Unpack[RouteChanges]) -> Route:
        async with self._database.write() as connection:
            route = await repository.get_route(connection, route_id)
            changed = check_route(replace(route, **changes))
            await repository.update_route(connection, changed)
        return changed

    async def delete(self, route_id: str) -> None:
        """Nobody is told by it any more; what waited to be sent goes with it."""
        async with self._database.write() as connection:
            await repository.get_route(connection, route_id)
            await repository.delete_route(connection, route_id)

    async def deliveries(
        self, alarm_id: int | None = None, *, after: str | None = None, limit: int = 50
    ) -> Page[Delivery]:
        """What was sent, waits or was given up; the newest first."""
        async with self._database.read() as connection:
            return await repository.list_deliveries(connection, alarm_id, after=after, limit=limit)
