"""Stations as they are planned, put into the database in the transaction of the caller."""

from dataclasses import replace

from csms.clock import Clock
from csms.errors import InvalidInput
from csms.stations import repository
from csms.stations.model import Registration
from csms.stations.moving_service import refuse_to_move
from csms.stations.record import Station, check_evse_count, check_station
from csms.store.database import Connection, Database

OURS = (
    "name", "site_id", "circuit_id", "wiring", "max_current_a", "step_a", "fallback_a", "can_choose_line",
    "keeps_profiles", "expected_serial",
)  # fmt: skip
"""What a plan says of a station; all else it tells itself."""


class StationPlans:
    """Creates and updates; a station that a plan does not name stays. Raises Conflict, InvalidInput."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    async def put_station(self, connection: Connection, planned: Station, evses: int) -> bool:
        """The station as planned, accepted when it is new or was waiting. True: that changed something."""
        check_evse_count("evses", evses)
        station = check_station(
            replace(planned, registration=Registration.ACCEPTED, created_at=self._clock.now())
        )
        found = await repository.find_station(connection, station.id, lock=True)
        for other in await repository.awaiting(connection, station.expected_serial):
            if other.id != station.id:
                raise InvalidInput(
                    "expected_serial", f"{station.expected_serial!r} is expected at {other.label} already"
                )
        if found is None:
            await repository.insert_station(connection, station)
            changed, topic = station, "station.created"
        else:
            fresh = {key: getattr(station, key) for key in OURS}
            registration = Registration.ACCEPTED if found.waits else found.registration
            changed = replace(found, registration=registration, **fresh)
            topic = "station.changed"
            await refuse_to_move(connection, found, changed)
        known = [
            each.number for each in await repository.list_evses(connection, [station.id]) if each.confirmed
        ]
        if changed == found and sorted(n for n in known if n > 0) == list(range(1, evses + 1)):
            return False
        if found is not None:
            await repository.update_station(connection, changed)
        await repository.confirm_evses(connection, self._database.dialect, station.id, evses)
        before = changed.registration if found is None else found.registration
        await repository.tell(
            connection,
            topic,
            changed,
            self._clock.now(),
            registration=changed.registration.value,
            registration_before=before.value,
        )
        return True
