"""`/v1/groups`: members who share rights, and their standing when the supply is short."""

from typing import Annotated

from fastapi import APIRouter, Query, Response
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Ident, Input, Instant, Output, Text, absent
from api.pagination import After, Cursors, Limit, PageOut
from csms.access.groups.group import LARGEST_PRIORITY, WEIGHTS, Group
from csms.store.paging import Page

router = APIRouter(prefix="/groups", tags=["groups"], route_class=GuardedRoute)
cursors = Cursors("groups")
member_cursors = Cursors("group members")

Priority = Annotated[int, Field(ge=0, le=LARGEST_PRIORITY)]
Weight = Annotated[float, Field(ge=WEIGHTS[0], le=WEIGHTS[1])]


class NewGroup(Input):
    """A higher `priority` is served first; within one, shares are in proportion to `weight`."""

    id: Ident | None = None
    site_id: Ident
    name: Text
    priority: Priority = 0
    weight: Weight = 1.0


class GroupChange(Input):
    """What is left out stays."""

    name: Text = Field(default_factory=absent)
    priority: Priority = Field(default_factory=absent)
    weight: Weight = Field(default_factory=absent)


class GroupOut(Output):
    """A group."""

    id: str
    site_id: str
    name: str
    priority: int
    weight: float
    created_at: Instant


@router.get("", response_model=PageOut[GroupOut])
async def list_groups(
    central: TheCentral,
    site: Annotated[Ident | None, Query()] = None,
    limit: Limit = 50,
    after: After = None,
) -> Page[Group]:
    """Groups of a site or of all, by id."""
    return cursors.write(await central.groups.list(site_id=site, after=cursors.read(after), limit=limit))


@router.post("", status_code=201, response_model=GroupOut)
async def create_group(central: TheCentral, body: NewGroup, response: Response) -> Group:
    """A new group, empty."""
    group = await central.groups.create(
        id=body.id, site_id=body.site_id, name=body.name, priority=body.priority, weight=body.weight
    )
    response.headers["Location"] = f"/v1/groups/{group.id}"
    return group


@router.get("/{group_id}", response_model=GroupOut)
async def get_group(central: TheCentral, group_id: Id) -> Group:
    """One group."""
    return await central.groups.get(group_id)


@router.patch("/{group_id}", response_model=GroupOut)
async def change_group(central: TheCentral, group_id: Id, body: GroupChange) -> Group:
    """Change what is given."""
    return await central.groups.update(group_id, **body.given())


@router.delete("/{group_id}", status_code=204)
async def delete_group(central: TheCentral, group_id: Id) -> None:
    """Remove a group that has no rights; its members stay."""
    await central.groups.delete(group_id)


@router.get("/{group_id}/members", response_model=PageOut[str])
async def members_in(central: TheCentral, group_id: Id, limit: Limit = 50, after: After = None) -> Page[str]:
    """Ids of the members in the group."""
    return member_cursors.write(
        await central.groups.members_in(group_id, after=member_cursors.read(after), limit=limit)
    )


@router.put("/{group_id}/members/{member_id}", status_code=204)
async def put_in(central: TheCentral, group_id: Id, member_id: Id) -> None:
    """Put a member into the group; nothing happens when it is there."""
    await central.groups.put_in(group_id, member_id)


@router.delete("/{group_id}/members/{member_id}", status_code=204)
async def take_out(central: TheCentral, group_id: Id, member_id: Id) -> None:
    """Take a member out of the group."""
    await central.groups.take_out(group_id, member_id)
