"""`/v1/health`: is this node fit to serve? Needs no key, so it tells counts and nothing else."""

import logging
from typing import Literal

from fastapi import APIRouter, Response

from api.deps import TheCentral
from api.fields import Output

log = logging.getLogger(__name__)
router = APIRouter(tags=["health"])


class Health(Output):
    """`database`: whether it answers. `stations_connected`: to this node."""

    status: Literal["good", "bad"]
    database: Literal["reachable", "unreachable"]
    stations_connected: int


@router.get("/health", responses={503: {"model": Health, "description": "This node cannot serve"}})
async def health(central: TheCentral, response: Response) -> Health:
    """Whether this node can serve. The status code says it too."""
    connected = len(central.commands.station_ids)
    try:
        async with central.database.read() as connection:
            await connection.exec_driver_sql("SELECT 1")
    except Exception:
        log.exception("the database cannot be reached")
        response.status_code = 503
        return Health(status="bad", database="unreachable", stations_connected=connected)
    return Health(status="good", database="reachable", stations_connected=connected)
