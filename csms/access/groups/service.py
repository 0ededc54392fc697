"""Groups and who is in them, as the rest of the program holds them."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Unpack

from csms.access.groups import repository
from csms.access.groups.group import Group, GroupChanges, Standing, check_group, standing
from csms.clock import Clock
from csms.errors import Conflict, InvalidInput, NotFound
from csms.ids import new_id
from csms.store.database import Database
from csms.store.outbox import Fact, put
from csms.store.paging import Page


class GroupsService:
    """Keeps groups. Raises NotFound, Conflict, InvalidInput."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    async def create(
        self, *, site_id: str, name: str, priority: int = 0, weight: float = 1.0, id: str | None = None
    ) -> Group:
        """A new group, empty. `id` is made up when none is given."""
        group = check_group(
            Group(
                id=new_id("grp") if id is None else id,
                site_id=site_id,
                name=name,
                priority=priority,
                weight=weight,
                created_at=self._clock.now(),
            )
        )
        async with self._database.write() as connection:
            if not await repository.site_exists(connection, site_id):
                raise InvalidInput("site_id", f"there is no site {site_id!r}")
            await repository.insert_group(connection, group)
            await put(connection, self._fact("created", group))
        return group

    async def get(self, group_id: str) -> Group:
        async with self._database.read() as connection:
            return await repository.get_group(connection, group_id)

    async def list(
        self, *, site_id: str | None = None, after: str | None = None, limit: int = 50
    ) -> Page[Group]:
        async with self._database.read() as connection:
            return await repository.list_groups(connection, site_id=site_id, after=after, limit=limit)

    async def update(self, group_id: str, **changes: Unpack[GroupChanges]) -> Group:
        """The group after `changes`."""
        async with self._database.write() as connection:
            group = await repository.get_group(connection, group_id, lock=True)
            changed = check_group(replace(group, **changes))
            if changed != group:
                await repository.update_group(connection, changed)
                await put(connection, self._fact("changed", changed))
        return changed

    async def delete(self, group_id: str) -> None:
        """Remove a group; its members stay.

        Conflict while it has rights or a tariff is assigned to it, which would go unnoticed.
        """
        async with self._database.write() as connection:
            group = await repository.get_group(connection, group_id)
            rights = await repository.rights_of(connection, group_id)
            if rights:
                raise Conflict(f"group {group.name} has {rights} rights; take them away first")
            tariffs = await repository.tariffs_of(connection, group_id, self._clock.now())
            if tariffs:
                raise Conflict(
                    f"group {group.name} has {tariffs} tariffs assigned; end these assignments first, "
                    "or its members will be priced by another tariff"
                )
            await repository.delete_group(connection, group_id)
            await put(connection, self._fact("deleted", group))

    async def put_in(self, group_id: str, member_id: str) -> None:
        """Put a member of the same site into the group; nothing happens when it is there."""
        async with self._database.write() as connection:
            group = await repository.get_group(connection, group_id)
            member = await repository.find_member(connection, member_id)
            if member is None:
                raise NotFound("member", member_id)
            site_id, name = member
            if site_id != group.site_id:
                raise InvalidInput("member_id", f"{name} belongs to another site than group {group.name}")
            if await repository.put_in(connection, self._database.dialect, group_id, member_id):
                await put(connection, self._fact("member put in", group, member=name))

    async def take_out(self, group_id: str, member_id: str) -> None:
        """Take a member out of the group; NotFound when it is not in it."""
        async with self._database.write() as connection:
            group = await repository.get_group(connection, group_id)
            member = await repository.find_member(connection, member_id)
            if member is None or not await repository.take_out(connection, group_id, member_id):
                raise NotFound("member of the group", member_id)
            await put(connection, self._fact("member taken out", group, member=member[1]))

    async def members_in(self, group_id: str, *, after: str | None = None, limit: int = 50) -> Page[str]:
        """Ids of the group's members."""
        async with self._database.read() as connection:
            await repository.get_group(connection, group_id)
            return await repository.members_in(connection, group_id, after=after, limit=limit)

    async def groups_of(self, member_id: str) -> tuple[Group, ...]:
        async with self._database.read() as connection:
            return await repository.groups_of(connection, member_id)

    async def standings(self, site_id: str) -> Mapping[str, Standing]:
        """Standing by member id, of the site's members that are in a group; others have Standing()."""
        async with self._database.read() as connection:
            by_member = await repository.groups_by_member(connection, site_id)
        return {member_id: standing(groups) for member_id, groups in by_member.items()}

    def _fact(self, change: str, group: Group, **more: str) -> Fact:
        body = {"change": change, "group": group.name, "priority": group.priority, **more}
        now = self._clock.now()
        return Fact(topic="group.changed", at=now, site_id=group.site_id, subject=group.id, body=body)
