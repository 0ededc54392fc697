"""Whether a station may be hung on another circuit now."""

from csms.errors import Conflict
from csms.stations import repository
from csms.stations.record import Station
from csms.store.database import Connection


async def refuse_to_move(connection: Connection, station: Station, changed: Station) -> None:
    """Conflict when the station would hang on another circuit while a car is plugged in."""
    moves = (station.site_id, station.circuit_id) != (changed.site_id, changed.circuit_id)
    if moves and station.circuit_id is not None:
        running = await repository.count_open_sessions(connection, station.id)
        if running:
            raise Conflict(
                f"a car is plugged in at station {station.id}; it can be moved when the session has ended"
            )
