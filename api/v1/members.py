"""`/v1/members`: flats, people and vehicles that tokens and sessions belong to."""

from typing import Annotated

from fastapi import APIRouter, Query, Response
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Ident, Input, Instant, Note, Output, Text, absent
from api.pagination import After, Cursors, Limit, PageOut
from csms.access.groups.group import Group
from csms.access.members.member import Member, MemberKind
from csms.store.paging import Page

router = APIRouter(prefix="/members", tags=["members"], route_class=GuardedRoute)
cursors = Cursors("members")


class NewMember(Input):
    """`id`: made up when left out."""

    id: Ident | None = None
    site_id: Ident
    kind: MemberKind = Field(default=MemberKind.FLAT, strict=False)
    name: Text
    email: Note = ""


class MemberChange(Input):
    """What is left out stays. `active` false: none of its tokens may charge."""

    kind: MemberKind = Field(default_factory=absent, strict=False)
    name: Text = Field(default_factory=absent)
    email: Note = Field(default_factory=absent)
    active: bool = Field(default_factory=absent)


class MemberOut(Output):
    """A member."""

    id: str
    site_id: str
    kind: MemberKind
    name: str
    email: str
    active: bool
    created_at: Instant


class GroupRef(Output):
    """A group that a member is in."""

    id: str
    name: str


class GroupsOut(Output):
    """All groups of a member."""

    items: list[GroupRef]


@router.get("", response_model=PageOut[MemberOut])
async def list_members(
    central: TheCentral,
    site: Annotated[Ident | None, Query()] = None,
    kind: MemberKind | None = None,
    active: bool | None = None,
    limit: Limit = 50,
    after: After = None,
) -> Page[Member]:
    """Members that fit all that is given, by id."""
    return cursors.write(
        await central.members.list(
            site_id=site, kind=kind, active=active, after=cursors.read(after), limit=limit
        )
    )


@router.post("", status_code=201, response_model=MemberOut)
async def create_member(central: TheCentral, body: NewMember, response: Response) -> Member:
    """A new member, active at once."""
    member = await central.members.create(
        id=body.id, site_id=body.site_id, kind=body.kind, name=body.name, email=body.email
    )
    response.headers["Location"] = f"/v1/members/{member.id}"
    return member


@router.get("/{member_id}", response_model=MemberOut)
async def get_member(central: TheCentral, member_id: Id) -> Member:
    """One member."""
    return await central.members.get(member_id)


@router.patch("/{member_id}", response_model=MemberOut)
async def change_member(central: TheCentral, member_id: Id, body: MemberChange) -> Member:
    """Change what is given."""
    return await central.members.update(member_id, **body.given())


@router.delete("/{member_id}", status_code=204)
async def delete_member(central: TheCentral, member_id: Id) -> None:
    """Remove a member that has neither tokens nor sessions; make any other inactive."""
    await central.members.delete(member_id)


@router.get("/{member_id}/groups", response_model=GroupsOut)
async def groups_of(central: TheCentral, member_id: Id) -> dict[str, tuple[Group, ...]]:
    """The groups that the member is in."""
    await central.members.get(member_id)
    return {"items": await central.groups.groups_of(member_id)}
