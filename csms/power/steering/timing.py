"""What the installer may choose of the time, and of what comes unseen (settings of the same meaning)."""

from dataclasses import dataclass

from csms.power.steering.base_load import STALE_AT_LEAST_S
from csms.power.steering.profile import LIVE_VALID_S
from csms.power.steering.promises import SKEW_S


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """`offer_validity_s`: how long a live offer holds in the station by itself.

    `rotation_s`: how long a car keeps its turn while another waits; so nobody starves, and contactors
    do not chatter. `raise_delay_s`: how long room must last before an offer is raised.
    `meter_stale_s`: a building meter counts as silent after three of its periods, but not before this.
    `unseen_step_a`: A per line kept free, where a meter is, for a step of the base load that comes while the
    meter is silent and not yet stale, or while we are dead and offers still hold. 0: such a step may pass the
    limit for as long as that.
    """

    offer_validity_s: float = LIVE_VALID_S
    rotation_s: float = 900.0
    raise_delay_s: float = 30.0
    meter_stale_s: float = STALE_AT_LEAST_S
    unseen_step_a: float = 0.0

    @property
    def ahead_s(self) -> float:
        """How long before a limit may lapse the room for what follows is made: so long that it is there
        even if nobody else can be told to lower, as then their offers have lapsed too."""
        return self.offer_validity_s + 3 * SKEW_S


USUAL = Timing()
