"""One transaction as the station that runs it sees it, free of protocol words where both versions agree."""

from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from tools.simulator.profiles import Running


class Trigger(StrEnum):
    """Why something is told now; the values are OCPP 2.0.1's trigger reasons (1.6 has none)."""

    AUTHORIZED = "Authorized"
    PLUGGED_IN = "CablePluggedIn"
    CHARGING_STATE = "ChargingStateChanged"
    RATE_CHANGED = "ChargingRateChanged"
    DEAUTHORIZED = "Deauthorized"
    PERIODIC = "MeterValuePeriodic"
    CLOCK = "MeterValueClock"
    TRIGGER = "Trigger"
    UNLOCK = "UnlockCommand"
    STOP_AUTHORIZED = "StopAuthorized"
    DEPARTED = "EVCommunicationLost"
    REMOTE_START = "RemoteStart"
    REMOTE_STOP = "RemoteStop"
    RESET = "ResetCommand"


class Reason(StrEnum):
    """Why a transaction ended, in neutral words."""

    LOCAL = "local"
    DEPARTED = "departed"
    REMOTE = "remote"
    DEAUTHORIZED = "deauthorized"
    UNLOCK = "unlock"
    SOFT_RESET = "soft reset"
    HARD_RESET = "hard reset"
    POWER_LOSS = "power loss"


class Condition(StrEnum):
    """State of one place; the values are OCPP 1.6's connector states."""

    AVAILABLE = "Available"
    PREPARING = "Preparing"
    CHARGING = "Charging"
    SUSPENDED_EVSE = "SuspendedEVSE"
    SUSPENDED_EV = "SuspendedEV"
    FINISHING = "Finishing"
    UNAVAILABLE = "Unavailable"
    FAULTED = "Faulted"


@dataclass(slots=True, kw_only=True)
class Session:
    """A transaction. `key` is the station's own id (2.0.1 sends it); `number` the one a 1.6 system gave,
    once known."""

    key: str
    evse_id: int
    token: str
    started_at: datetime
    meter_start_wh: float
    number: int | None = None
    seq_no: int = 0
    remote_start_id: int | None = None
    deauthorized: bool = False
    told_token: bool = False
    sampled_at: datetime | None = None
    ended: bool = False
    start_answered: bool = field(default=False)

    @property
    def transaction_id(self) -> str:
        """As charging profiles name it."""
        return self.key if self.number is None else str(self.number)

    def running(self) -> Running:
        return Running(transaction_id=self.transaction_id, started_at=self.started_at)

    def next_seq_no(self) -> int:
        number = self.seq_no
        self.seq_no += 1
        return number
