"""What happened, as pages and partners read it: the outbox from its newest fact back."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, select

from csms.store.database import Database
from csms.store.paging import Page, fetch_page
from csms.store.tables.system import outbox


@dataclass(frozen=True, slots=True, kw_only=True)
class PastFact:
    """A fact with its number; later ones have higher numbers. `body` is written to be read."""

    id: int
    topic: str
    at: datetime
    site_id: str | None
    subject: str
    body: Mapping[str, Any]


class History:
    """Reads only."""

    def __init__(self, database: Database) -> None:
        self._database = database

    async def latest(
        self,
        *,
        site_id: str | None = None,
        topic: str = "",
        subject: str | None = None,
        after: str | None = None,
        limit: int = 50,
    ) -> Page[PastFact]:
        """Facts of a site (of all when None) whose topic begins with `topic`, the newest first."""
        query = select(outbox)
        if site_id is not None:
            query = query.where(outbox.c.site_id == site_id)
        if topic:
            query = query.where(outbox.c.topic.startswith(topic, autoescape=True))
        if subject is not None:
            query = query.where(outbox.c.subject == subject)
        async with self._database.read() as connection:
            return await fetch_page(
                connection, query, outbox.c.id, _fact, after=after, limit=limit, descending=True
            )


def _fact(row: Row[Any]) -> PastFact:
    return PastFact(
        id=row.id, topic=row.topic, at=row.at, site_id=row.site_id, subject=row.subject, body=row.body
    )
