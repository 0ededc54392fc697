"""A charger joins the place that was planned for it, in the transaction of the caller."""

from dataclasses import replace
from datetime import datetime

from csms.stations import repository
from csms.stations.model import Registration
from csms.stations.plan_service import OURS
from csms.stations.record import Station
from csms.store.database import Connection


async def join(
    connection: Connection,
    dialect: str,
    place: Station,
    station_id: str,
    waiting: Station | None,
    now: datetime,
) -> Station:
    """`station_id` (as it waits, None: it is not kept yet) takes over `place` with all that hangs on it.

    The planned station is gone then: its rights and tariffs are those of the one that came.
    """
    fresh = {key: getattr(place, key) for key in OURS}
    if waiting is None:
        station = Station(id=station_id, registration=Registration.ACCEPTED, created_at=now, **fresh)
        await repository.insert_station(connection, station)
    else:
        station = replace(waiting, registration=Registration.ACCEPTED, **fresh)
        await repository.update_station(connection, station)
    evses = await repository.list_evses(connection, [place.id])
    count = sum(evse.number > 0 and evse.confirmed for evse in evses)
    await repository.confirm_evses(connection, dialect, station_id, max(1, count))
    await repository.hand_over(connection, place.id, station_id)
    await repository.delete_station(connection, place.id)
    await repository.tell(connection, "station.deleted", place, now, joined_by=station_id)
    await repository.tell(connection, "station.created", station, now, planned_as=place.id)
    await repository.tell(connection, "station.commissioned", station, now, planned_as=place.id)
    return station
