"""What followers inside the process hear of sessions, after the commit.

For those who have to act within a second (who shares the supply). It may be lost with the
process; what must not be lost is in the outbox.
"""

from collections.abc import Callable
from dataclasses import dataclass

from csms.sessions.session import State
from csms.stations.model import ChargingState, Reading


@dataclass(frozen=True, slots=True)
class SessionNews:
    """Where a session stands, and the reading that brought the news, if one did.

    `began`: it is the first that is heard of it.
    """

    session_id: int
    station_id: str
    evse: int | None
    transaction_id: str
    state: State
    charging: ChargingState
    energy_wh: int
    member_id: str | None
    reading: Reading | None = None
    began: bool = False


Follower = Callable[[SessionNews], None]
