"""Swapping of batteries (OCPP 2.1, block S)."""

from dataclasses import dataclass
from datetime import datetime

from csms.stations.model import TokenRef


@dataclass(frozen=True, slots=True)
class Battery:
    """A battery in a slot (`evse`); state of charge and of health in percent."""

    evse: int
    serial_number: str
    soc_percent: float
    soh_percent: float
    produced_at: datetime | None = None
    vendor_info: str = ""


@dataclass(frozen=True, slots=True)
class BatterySwapped:
    """Batteries went in or out: battery_in, battery_out or battery_out_timeout."""

    request_id: int
    kind: str
    token: TokenRef | None = None
    batteries: tuple[Battery, ...] = ()


@dataclass(frozen=True, slots=True)
class RequestBatterySwap:
    token: TokenRef
    request_id: int
