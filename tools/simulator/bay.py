"""One place to charge at a station: EVSE, cable, authorization and transaction. No protocol, no time of its
own."""

from dataclasses import dataclass
from datetime import datetime

from tools.simulator.car import LOWEST_PILOT_A
from tools.simulator.evse import Evse
from tools.simulator.session import Condition, Session


@dataclass(frozen=True, slots=True, kw_only=True)
class Authorization:
    """A card that was accepted, waiting for its cable."""

    token: str
    at: datetime
    remote_start_id: int | None = None


@dataclass(slots=True)
class Bay:
    """`number` is the 1.6 connector and the 2.0.1 EVSE id, from 1."""

    number: int
    evse: Evse
    authorization: Authorization | None = None
    session: Session | None = None
    finishing: bool = False
    out_of_service_when_free: bool = False
    last_condition: Condition | None = None
    last_offered_a: float = 0.0

    @property
    def plugged(self) -> bool:
        return self.evse.car is not None

    @property
    def condition(self) -> Condition:
        if self.evse.faulted:
            return Condition.FAULTED
        if not self.evse.in_service:
            return Condition.UNAVAILABLE
        if self.session is not None:
            return self._charging_condition(self.session)
        if self.finishing and self.plugged:
            return Condition.FINISHING
        if self.plugged or self.authorization is not None:
            return Condition.PREPARING
        return Condition.AVAILABLE

    def _charging_condition(self, session: Session) -> Condition:
        car = self.evse.car
        if session.deauthorized or self.evse.offered_a < LOWEST_PILOT_A:
            return Condition.SUSPENDED_EVSE  # beats SuspendedEV (OCPP 1.6 section 4.9)
        if car is None or not car.asks:
            return Condition.SUSPENDED_EV
        return Condition.CHARGING

    @property
    def asking(self) -> bool:
        """Whether a car here would take current if it were offered."""
        car = self.evse.car
        return self.session is not None and not self.session.deauthorized and car is not None and car.asks
