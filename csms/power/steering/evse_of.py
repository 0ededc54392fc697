"""Which of a site's EVSEs somebody means."""

from csms.power.installation import Evse
from csms.power.steering.state import SiteState


def evse_of(state: SiteState, station_id: str, number: int | None) -> Evse | None:
    """The EVSE of that number; of a station that has only one, also without a number. None: not known."""
    if number is not None:
        return Evse(station_id, number)
    those = [evse for evse in state.bays if evse.station_id == station_id]
    return those[0] if len(those) == 1 else None
