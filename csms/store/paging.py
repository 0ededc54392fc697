"""Pages by cursor: the key of the last item seen, so that nothing is skipped when rows come in."""

from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from sqlalchemy import Select
from sqlalchemy.ext.asyncio import AsyncConnection
from sqlalchemy.sql import ColumnElement

T = TypeVar("T")

LARGEST_PAGE = 500


@dataclass(frozen=True, slots=True)
class Page(Generic[T]):
    """`next` is the cursor of the following page, None on the last one."""

    items: tuple[T, ...]
    next: str | None = None


async def fetch_page(
    connection: AsyncConnection,
    query: Select[Any],
    key: ColumnElement[Any],
    make: Callable[[Any], T],
    *,
    after: str | None,
    limit: int,
    descending: bool = False,
) -> Page[T]:
    """Rows of `query` in order of its unique column `key`, from behind `after` on, at most `limit`.

    `after` is a cursor of an earlier page; integer keys travel as decimal text.
    """
    limit = max(1, min(limit, LARGEST_PAGE))
    if after is not None:
        value: Any = int(after) if key.type.python_type is int else after
        query = query.where(key < value if descending else key > value)
    query = query.order_by(key.desc() if descending else key).limit(limit + 1)
    rows = (await connection.execute(query)).all()
    cursor = str(getattr(rows[limit - 1], key.key or "")) if len(rows) > limit else None
    return Page(tuple(make(row) for row in rows[:limit]), cursor)


async def every(list_page: Callable[..., Awaitable[Page[T]]], *which: Any, **more: Any) -> tuple[T, ...]:
    """All items of a list that comes in pages."""
    items: list[T] = []
    after: str | None = None
    while True:
        page = await list_page(*which, **more, after=after, limit=LARGEST_PAGE)
        items += page.items
        if page.next is None:
            return tuple(items)
        after = page.next
