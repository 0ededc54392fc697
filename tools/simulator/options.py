"""What can be set in a station, in neutral names; both versions' key tables point here."""

from dataclasses import dataclass
from typing import Final

MEASURANDS: Final = (
    "Energy.Active.Import.Register",
    "Power.Active.Import",
    "Current.Import",
    "Voltage",
    "Current.Offered",
    "Power.Offered",
    "Frequency",
    "Power.Factor",
    "SoC",
)
"""With three lines these are 13 values: current and voltage come once per line."""


@dataclass(slots=True, kw_only=True)
class Options:
    """Seconds are simulated seconds. `password` is what the station sends as HTTP Basic password, None for
    none."""

    heartbeat_s: int = 300
    sample_s: int = 60
    aligned_s: int = 0
    connection_timeout_s: int = 60
    message_attempts: int = 5
    message_retry_s: int = 20
    ping_s: int = 30
    authorize_remote: bool = True
    stop_on_invalid_id: bool = True
    stop_on_departure: bool = True
    offline_known_tokens: bool = True
    offline_unknown_tokens: bool = False
    starts_when_plugged: bool = False
    """2.0.1's TxStartPoint EVConnected; otherwise PowerPathClosed, which 1.6 has always."""
    measurands: tuple[str, ...] = MEASURANDS
    aligned_measurands: tuple[str, ...] = ("Energy.Active.Import.Register",)
    max_stack_level: int = 20
    max_periods: int = 96
    max_profiles: int = 30
    password: str | bytes | None = None

    def __post_init__(self) -> None:
        for name in ("heartbeat_s", "message_attempts"):
            if getattr(self, name) < 1:
                raise ValueError(f"{name}: {getattr(self, name)} must be at least 1")
        for name in ("sample_s", "aligned_s", "connection_timeout_s", "message_retry_s", "ping_s"):
            if getattr(self, name) < 0:
                raise ValueError(f"{name}: {getattr(self, name)} must not be negative (0 switches off)")
