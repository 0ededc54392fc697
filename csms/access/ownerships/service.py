"""Ownerships, as the rest of the program holds them."""

from dataclasses import replace
from datetime import datetime

from csms.access.ownerships import repository
from csms.access.ownerships.ownership import Ownership, Thing, check_ownership
from csms.clock import Clock
from csms.errors import Conflict, InvalidInput
from csms.ids import new_id
from csms.store.database import Connection, Database
from csms.store.outbox import Fact, put
from csms.store.paging import Page


class OwnershipsService:
    """Keeps ownerships. Raises NotFound, Conflict, InvalidInput.

    A change that reaches into a month that has been billed is allowed: the next statements correct it.
    """

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    async def create(
        self,
        *,
        site_id: str,
        member_id: str,
        token_id: str | None = None,
        station_id: str | None = None,
        evse: int | None = None,
        from_at: datetime | None = None,
        to_at: datetime | None = None,
        id: str | None = None,
    ) -> Ownership:
        """The thing belongs to the member from then to then. Two owners at a time are refused (`from_at`).

        A token that is the member's now is also theirs to charge with from now on.
        """
        new = Ownership(
            id=new_id("own") if id is None else id,
            site_id=site_id,
            thing=Thing(token_id, station_id, evse),
            member_id=member_id,
            from_at=from_at,
            to_at=to_at,
            created_at=self._clock.now(),
        )
        async with self._database.write() as connection:
            if not await repository.lock_site(connection, site_id):
                raise InvalidInput("site_id", f"there is no site {site_id!r}")
            others = await repository.of_thing(connection, new.thing)
            if any(other.id == new.id for other in others):
                raise Conflict(f"there is an ownership {new.id!r} already")
            new = check_ownership(new, others)
            if await repository.site_of_member(connection, member_id) != site_id:
                raise InvalidInput("member_id", f"there is no member {member_id!r} on site {site_id!r}")
            if await repository.site_of_thing(connection, new.thing) != site_id:
                field = "station_id" if token_id is None else "token_id"
                raise InvalidInput(field, f"there is no {new.thing} on site {site_id!r}")
            await repository.add(connection, new)
            if token_id is not None and new.covers(new.created_at):
                await repository.give_token(connection, token_id, member_id)
            await put(connection, self._fact("created", new))
        return new

    async def end(self, ownership_id: str, at: datetime) -> Ownership:
        """It ends `at` (exclusive), earlier or later than it did; overlap is refused as for a new one."""
        async with self._database.write() as connection:
            old = await repository.get(connection, ownership_id)
            await repository.lock_site(connection, old.site_id)
            others = await repository.of_thing(connection, old.thing)
            ended = check_ownership(replace(old, to_at=at), others)
            await repository.set_end(connection, ownership_id, ended.to_at)
            await put(connection, self._fact("ended", ended))
        return ended

    async def delete(self, ownership_id: str) -> None:
        """Remove one that was written by mistake."""
        async with self._database.write() as connection:
            old = await repository.get(connection, ownership_id)
            await repository.remove(connection, ownership_id)
            await put(connection, self._fact("deleted", old))

    async def get(self, ownership_id: str) -> Ownership:
        async with self._database.read() as connection:
            return await repository.get(connection, ownership_id)

    async def list(
        self,
        *,
        site_id: str | None = None,
        member_id: str | None = None,
        token_id: str | None = None,
        station_id: str | None = None,
        after: str | None = None,
        limit: int = 50,
    ) -> Page[Ownership]:
        """Ownerships that fit all that is given, in order of their ids."""
        async with self._database.read() as connection:
            return await repository.page(
                connection,
                site_id=site_id,
                member_id=member_id,
                token_id=token_id,
                station_id=station_id,
                after=after,
                limit=limit,
            )

    async def of_site(
        self, connection: Connection, site_id: str, start: datetime | None = None, end: datetime | None = None
    ) -> tuple[Ownership, ...]:
        """All of a site that hold at some time from `start` to `end`."""
        return await repository.of_site(connection, site_id, start, end)

    def _fact(self, change: str, each: Ownership) -> Fact:
        body = {
            "change": change,
            "thing": str(each.thing),
            "member": each.member_id,
            "from": None if each.from_at is None else each.from_at.isoformat(),
            "to": None if each.to_at is None else each.to_at.isoformat(),
        }
        now = self._clock.now()
        return Fact(topic="ownership.changed", at=now, site_id=each.site_id, subject=each.id, body=body)


async def hand_over(
    connection: Connection, token_id: str, site_id: str, member_id: str, at: datetime | None, now: datetime
) -> None:
    """In the transaction that makes a token a member's: end its present ownership `at`, begin another.

    `at` None: the token is new, and is the member's since ever.
    """
    thing = Thing(token_id=token_id)
    for each in await repository.of_thing(connection, thing):
        if at is not None and (each.to_at is None or each.to_at > at):
            if each.from_at is not None and each.from_at >= at:
                await repository.remove(connection, each.id)
            else:
                await repository.set_end(connection, each.id, at)
    new = Ownership(
        id=new_id("own"), site_id=site_id, thing=thing, member_id=member_id, from_at=at, created_at=now
    )
    await repository.add(connection, new)
