"""Which cars we hold: those that would charge and get nothing by our decision. Pure."""

from csms.power.installation import Evse
from csms.power.steering.picture import BayState, SiteShown


def holds(picture: SiteShown) -> frozenset[Evse]:
    """EVSEs whose car waits for us. It is not idle time on the bill."""
    return frozenset(bay.evse for bay in picture.bays if bay.state is BayState.WAITING)
