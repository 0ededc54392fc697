"""What has to be known for a verdict, in three small queries."""

from sqlalchemy import or_, select
from sqlalchemy.ext.asyncio import AsyncConnection
from sqlalchemy.sql import ColumnElement

from csms.access.members.member import Member, MemberKind
from csms.access.rights.repository import right_of
from csms.access.rights.right import Place, Right
from csms.access.tokens.repository import token_of
from csms.access.verdict.decide import Known
from csms.store.tables.access import access_right as rights
from csms.store.tables.access import member as members
from csms.store.tables.access import membership
from csms.store.tables.access import token as tokens
from csms.store.tables.sites import circuit as circuits
from csms.store.tables.stations import station as stations


async def place_of(connection: AsyncConnection, station_id: str) -> Place:
    """Where a station stands; a bare Place when it is unknown or nobody gave it a place."""
    query = select(stations.c.site_id, stations.c.circuit_id).where(stations.c.id == station_id)
    row = (await connection.execute(query)).one_or_none()
    if row is None or row.site_id is None:
        return Place(station_id)
    if row.circuit_id is None:
        return Place(station_id, row.site_id)
    tree = select(circuits.c.id, circuits.c.fed_from).where(circuits.c.site_id == row.site_id)
    fed_from = {each.id: each.fed_from for each in await connection.execute(tree)}
    path: list[str] = []
    at = row.circuit_id
    while at is not None and at not in path:
        path.append(at)
        at = fed_from.get(at)
    return Place(station_id, row.site_id, tuple(path))


async def known_token(connection: AsyncConnection, folded: str) -> Known | None:
    """The token with its member and the ids of the member's groups."""
    query = (
        select(
            tokens,
            members.c.site_id.label("member_site_id"),
            members.c.kind.label("member_kind"),
            members.c.name.label("member_name"),
            members.c.email.label("member_email"),
            members.c.active.label("member_active"),
            members.c.created_at.label("member_created_at"),
            membership.c.group_id,
        )
        .join(members, members.c.id == tokens.c.member_id)
        .outerjoin(membership, membership.c.member_id == members.c.id)
        .where(tokens.c.folded == folded)
    )
    rows = (await connection.execute(query)).all()
    if not rows:
        return None
    first = rows[0]
    member = Member(
        id=first.member_id,
        site_id=first.member_site_id,
        kind=MemberKind(first.member_kind),
        name=first.member_name,
        email=first.member_email,
        active=first.member_active,
        created_at=first.member_created_at,
    )
    groups = frozenset(row.group_id for row in rows if row.group_id is not None)
    return Known(token_of(first), member, groups)


async def rights_at(connection: AsyncConnection, site_id: str, known: Known | None) -> tuple[Right, ...]:
    """The rights on a site of everyone and, if given, of a member and its groups."""
    who: list[ColumnElement[bool]] = [rights.c.member_id.is_(None) & rights.c.group_id.is_(None)]
    if known is not None:
        who.append(rights.c.member_id == known.member.id)
        if known.groups:
            who.append(rights.c.group_id.in_(sorted(known.groups)))
    query = select(rights).where(rights.c.site_id == site_id, or_(*who)).order_by(rights.c.id)
    return tuple(right_of(row) for row in await connection.execute(query))
