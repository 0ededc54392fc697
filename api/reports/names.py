"""What people call the rows of a report."""

from collections import defaultdict
from collections.abc import Mapping
from enum import StrEnum
from typing import Final

from sqlalchemy import func, select
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.store.tables.access import member as members
from csms.store.tables.access import member_group as groups
from csms.store.tables.access import membership as memberships
from csms.store.tables.access import token as tokens
from csms.store.tables.stations import station as stations


class Of(StrEnum):
    """What has a name."""

    MEMBER = "member"
    TOKEN = "token"  # noqa: S105 (a card, no secret)
    STATION = "station"


NOBODY: Final = {Of.MEMBER: "Without a member", Of.TOKEN: "Without a known token"}
"""What belongs to none is named so, in a bucket of its own."""


async def names(connection: AsyncConnection, site_id: str, of: Of) -> dict[str, str]:
    """Id to name, of all that the site has."""
    if of is Of.MEMBER:
        query = select(members.c.id, members.c.name).where(members.c.site_id == site_id)
    elif of is Of.STATION:
        query = select(stations.c.id, stations.c.name).where(stations.c.site_id == site_id)
    else:
        query = (
            select(tokens.c.id, func.coalesce(func.nullif(tokens.c.label, ""), tokens.c.text).label("name"))
            .join(members, members.c.id == tokens.c.member_id)
            .where(members.c.site_id == site_id)
        )
    return {row.id: row.name or row.id for row in await connection.execute(query)}


async def groups_of(connection: AsyncConnection, site_id: str) -> Mapping[str, tuple[str, str]]:
    """Member to (id, name) of its groups; of one in several it is all of them, so that sums over
    rows count nobody twice. Members without a group are not in it."""
    query = (
        select(memberships.c.member_id, groups.c.id, groups.c.name)
        .join(groups, groups.c.id == memberships.c.group_id)
        .where(groups.c.site_id == site_id)
        .order_by(groups.c.name, groups.c.id)
    )
    found: defaultdict[str, list[tuple[str, str]]] = defaultdict(list)
    for row in await connection.execute(query):
        found[row.member_id].append((row.id, row.name))
    return {
        member_id: ("+".join(id for id, _ in each), " and ".join(name for _, name in each))
        for member_id, each in found.items()
    }
