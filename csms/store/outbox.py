"""Facts for the rest of the system, written in the transaction that made them true.

`csms.cluster.relay` hands them on after the commit, at least once and in order. The latest
of them are also what a page shows as events, so `body` is written to be read.
"""

from typing import Any

from sqlalchemy import insert
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.store.change import Change
from csms.store.fact import Fact
from csms.store.tables.system import outbox

__all__ = ["INSERT", "TOLD", "Fact", "change", "put"]

INSERT = insert(outbox)
TOLD = "phaseyard_told"
"""Mark on a connection: the open transaction has facts, so that the relay has to look after it."""


def change(fact: Fact) -> Change:
    """The row as a change for the group commit."""
    return Change(INSERT, _values(fact))


async def put(connection: AsyncConnection, *facts: Fact) -> None:
    """Write the rows in the caller's transaction."""
    if facts:
        connection.info[TOLD] = True
        await connection.execute(INSERT, [_values(fact) for fact in facts])


def _values(fact: Fact) -> dict[str, Any]:
    return {
        "topic": fact.topic,
        "site_id": fact.site_id,
        "subject": fact.subject,
        "body": fact.body,
        "at": fact.at,
    }
