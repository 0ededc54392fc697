"""Members, as the rest of the program holds them."""

from dataclasses import replace
from typing import Unpack

from csms.access.members import repository
from csms.access.members.member import Member, MemberChanges, MemberKind, check_member
from csms.clock import Clock
from csms.errors import Conflict, InvalidInput
from csms.ids import new_id
from csms.store.database import Database
from csms.store.outbox import Fact, put
from csms.store.paging import Page


class MembersService:
    """Keeps members. Raises NotFound, Conflict, InvalidInput."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    async def create(
        self,
        *,
        site_id: str,
        name: str,
        kind: MemberKind = MemberKind.FLAT,
        email: str = "",
        id: str | None = None,
    ) -> Member:
        """A new member, active at once. `id` is made up when none is given."""
        member = check_member(
            Member(
                id=new_id("mem") if id is None else id,
                site_id=site_id,
                kind=kind,
                name=name,
                email=email,
                created_at=self._clock.now(),
            )
        )
        async with self._database.write() as connection:
            if not await repository.site_exists(connection, site_id):
                raise InvalidInput("site_id", f"there is no site {site_id!r}")
            await repository.insert_member(connection, member)
            await put(connection, self._fact("created", member))
        return member

    async def get(self, member_id: str) -> Member:
        async with self._database.read() as connection:
            return await repository.get_member(connection, member_id)

    async def list(
        self,
        *,
        site_id: str | None = None,
        kind: MemberKind | None = None,
        active: bool | None = None,
        after: str | None = None,
        limit: int = 50,
    ) -> Page[Member]:
        """Members that fit all that is given, in order of their ids."""
        async with self._database.read() as connection:
            return await repository.list_members(
                connection, site_id=site_id, kind=kind, active=active, after=after, limit=limit
            )

    async def update(self, member_id: str, **changes: Unpack[MemberChanges]) -> Member:
        """The member after `changes`."""
        async with self._database.write() as connection:
            member = await repository.get_member(connection, member_id, lock=True)
            changed = check_member(replace(member, **changes))
            if changed != member:
                await repository.update_member(connection, changed)
                await put(connection, self._fact("changed", changed))
        return changed

    async def delete(self, member_id: str) -> None:
        """Remove a member that nothing belongs to; Conflict says what does."""
        async with self._database.write() as connection:
            member = await repository.get_member(connection, member_id)
            held = await repository.holdings(connection, member_id)
            if held:
                what = " and ".join(f"{count} {sort}" for sort, count in held.items())
                raise Conflict(f"{member.name} has {what}; make it inactive instead")
            await repository.delete_member(connection, member_id)
            await put(connection, self._fact("deleted", member))

    def _fact(self, change: str, member: Member) -> Fact:
        body = {"change": change, "member": member.name, "kind": member.kind.value, "active": member.active}
        now = self._clock.now()
        return Fact(topic="member.changed", at=now, site_id=member.site_id, subject=member.id, body=body)
