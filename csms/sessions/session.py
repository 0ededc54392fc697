"""What a session is, and its life cycle as a table.

    provisional --began--> started --charges--> charging <--charges/pauses--> suspended
    any of them --closes--> closed --ends--> ended          any of them --ends--> ended

`ended` is what the station told; `closed` is what we assume (another session began on the EVSE, or a
person closed it): a stop that comes after all still ends it. A step is a fact, so the table has an
answer for every pair.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any

from csms.stations.model import ChargingState, StopReason


class State(StrEnum):
    """`PROVISIONAL`: heard of without its start."""

    PROVISIONAL = "provisional"
    STARTED = "started"
    CHARGING = "charging"
    SUSPENDED = "suspended"
    CLOSED = "closed"
    ENDED = "ended"


class Event(StrEnum):
    """What can happen to a session."""

    BEGAN = "began"
    CHARGES = "charges"
    PAUSES = "pauses"
    CLOSES = "closes"
    ENDS = "ends"


TRANSITIONS: Mapping[tuple[State, Event], State] = {
    (State.PROVISIONAL, Event.BEGAN): State.STARTED,
    (State.PROVISIONAL, Event.CHARGES): State.PROVISIONAL,
    (State.PROVISIONAL, Event.PAUSES): State.PROVISIONAL,
    (State.PROVISIONAL, Event.CLOSES): State.CLOSED,
    (State.PROVISIONAL, Event.ENDS): State.ENDED,
    (State.STARTED, Event.BEGAN): State.STARTED,
    (State.STARTED, Event.CHARGES): State.CHARGING,
    (State.STARTED, Event.PAUSES): State.SUSPENDED,
    (State.STARTED, Event.CLOSES): State.CLOSED,
    (State.STARTED, Event.ENDS): State.ENDED,
    (State.CHARGING, Event.BEGAN): State.CHARGING,
    (State.CHARGING, Event.CHARGES): State.CHARGING,
    (State.CHARGING, Event.PAUSES): State.SUSPENDED,
    (State.CHARGING, Event.CLOSES): State.CLOSED,
    (State.CHARGING, Event.ENDS): State.ENDED,
    (State.SUSPENDED, Event.BEGAN): State.SUSPENDED,
    (State.SUSPENDED, Event.CHARGES): State.CHARGING,
    (State.SUSPENDED, Event.PAUSES): State.SUSPENDED,
    (State.SUSPENDED, Event.CLOSES): State.CLOSED,
    (State.SUSPENDED, Event.ENDS): State.ENDED,
    (State.CLOSED, Event.BEGAN): State.CLOSED,
    (State.CLOSED, Event.CHARGES): State.CLOSED,
    (State.CLOSED, Event.PAUSES): State.CLOSED,
    (State.CLOSED, Event.CLOSES): State.CLOSED,
    (State.CLOSED, Event.ENDS): State.ENDED,
    (State.ENDED, Event.BEGAN): State.ENDED,
    (State.ENDED, Event.CHARGES): State.ENDED,
    (State.ENDED, Event.PAUSES): State.ENDED,
    (State.ENDED, Event.CLOSES): State.ENDED,
    (State.ENDED, Event.ENDS): State.ENDED,
}

OPEN = frozenset({State.PROVISIONAL, State.STARTED, State.CHARGING, State.SUSPENDED})
"""States in which a car is, as far as we know, still plugged in."""

CHARGING_EVENTS: Mapping[ChargingState, Event] = {
    ChargingState.CHARGING: Event.CHARGES,
    ChargingState.SUSPENDED_EV: Event.PAUSES,
    ChargingState.SUSPENDED_EVSE: Event.PAUSES,
}
"""What a car's condition means for the session; the others mean nothing."""


class Mark(StrEnum):
    """What was odd about a session, besides the flags of its registers (`metering.series.Flag`)."""

    NO_START_SEEN = "no_start_seen"
    NO_STOP_SEEN = "no_stop_seen"
    CLOSED_BY_HAND = "closed_by_hand"
    CLOCK_OFF = "clock_off"
    SEQUENCE_GAP = "sequence_gap"
    STOP_CONFLICT = "stop_conflict"
    MATCHED_STOP = "matched_stop"


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """Times are the station's, mended where its clock was off; `arrived_at` is ours.

    Registers in Wh as told. `energy_wh` is what counts (see `csms.metering.series`). `marks` maps
    what was odd to what there is to say of it. The cost is set by whoever prices it.
    """

    id: int = 0
    station_id: str
    site_id: str | None = None
    evse: int | None = None
    connector: int | None = None
    transaction_id: str | None = None
    start_key: str | None = None
    remote_start_id: int | None = None
    state: State = State.STARTED
    charging: ChargingState = ChargingState.IDLE
    token_folded: str = ""
    token_text: str = ""
    token_id: str | None = None
    member_id: str | None = None
    verdict: str = ""
    verdict_reason: str = ""
    started_at: datetime
    ended_at: datetime | None = None
    arrived_at: datetime
    stop_reason: StopReason | None = None
    register_start_wh: int | None = None
    register_last_wh: int | None = None
    register_last_at: datetime | None = None
    register_stop_wh: int | None = None
    energy_wh: int = 0
    last_sequence: int | None = None
    marks: Mapping[str, Any] = field(default_factory=dict)
    tariff_id: str | None = None
    currency: str | None = None
    cost_excl_minor: int | None = None
    cost_incl_minor: int | None = None
    cost_lines: Any = None

    @property
    def open(self) -> bool:
        return self.state in OPEN

    @property
    def start_seen(self) -> bool:
        return Mark.NO_START_SEEN not in self.marks


@dataclass(frozen=True, slots=True)
class Cost:
    """What a session costs, in minor units of `currency`; `lines` say how it came about.

    `incl_minor` is None where the tariff does not tell the VAT.
    """

    tariff_id: str | None
    currency: str
    excl_minor: int
    incl_minor: int | None
    lines: Any = None


@dataclass(frozen=True, slots=True)
class LastCharge:
    """When a member, or one of its tokens, charged last, and how much since a given day."""

    member_id: str | None
    token_id: str | None
    last_at: datetime
    sessions: int
    energy_wh: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionFilter:
    """What a session has to be; None: anything. By its start: `from_at` inclusive, `to_at` exclusive.

    `priced`: whether it has a cost.
    """

    site_id: str | None = None
    station_id: str | None = None
    member_id: str | None = None
    token_id: str | None = None
    from_at: datetime | None = None
    to_at: datetime | None = None
    open: bool | None = None
    priced: bool | None = None


@dataclass(frozen=True, slots=True)
class OrphanStep:
    """A step of a transaction that fitted nowhere, as the station told it, and what became of it.

    Resolved with a session it was put into that one, resolved without one it was dismissed.
    """

    id: int
    station_id: str
    at: datetime
    arrived_at: datetime
    reason: str
    body: Any
    resolved_at: datetime | None = None
    resolved_by: str | None = None
    session_id: int | None = None
    note: str | None = None
