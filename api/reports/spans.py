"""Spans of time in SQL, for reports: how long, and how long together when they lie over each other."""

from collections.abc import Sequence
from typing import Any

from sqlalchemy import BigInteger, ColumnElement, Select, case, cast, extract, func, literal, select

from csms.store.tables.sessions import session as sessions
from csms.store.tables.sessions import session_pause as pauses


def epoch(instant: ColumnElement[Any]) -> ColumnElement[int]:
    """Whole seconds since 1970."""
    return cast(extract("epoch", instant), BigInteger)


def larger(one: ColumnElement[Any], other: ColumnElement[Any]) -> ColumnElement[Any]:
    return case((one > other, one), else_=other)


def smaller(one: ColumnElement[Any], other: ColumnElement[Any]) -> ColumnElement[Any]:
    return case((one < other, one), else_=other)


def quiet_s(
    found: Select[Any], keys: Sequence[str], begin: ColumnElement[int], finish: ColumnElement[int]
) -> Select[Any]:
    """Seconds of pauses of the sessions in `found`, summed by its columns `keys`.

    Only what lies between the instants `begin` and `finish` counts. Of each pause only what comes
    after the latest end of those that began before it, so that pauses over each other count once.
    """
    low = larger(epoch(pauses.c.from_at), begin)
    high = smaller(func.coalesce(epoch(pauses.c.to_at), finish), finish)
    covered = func.max(high).over(
        partition_by=pauses.c.session_id, order_by=(low, pauses.c.by_us), rows=(None, -1)
    )
    each = (
        found.add_columns(low.label("low"), high.label("high"), covered.label("covered"))
        .join(pauses, pauses.c.session_id == sessions.c.id)
        .subquery()
    )
    since = larger(each.c.low, func.coalesce(each.c.covered, each.c.low))
    seconds = func.sum(larger(each.c.high - since, literal(0))).label("quiet_s")
    columns = [each.c[key] for key in keys]
    return select(*columns, seconds).group_by(*columns)
