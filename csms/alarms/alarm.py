"""The life of an alarm: a table of (state, event) to state, and what one alarm is."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any

from csms.errors import Conflict


class Severity(StrEnum):
    """In rising order. URGENT: somebody may be hurt, or cars will not be charged."""

    NOTICE = "notice"
    WARNING = "warning"
    URGENT = "urgent"

    @property
    def rank(self) -> int:
        return list(Severity).index(self)


class AlarmState(StrEnum):
    """PENDING: seen, but it has to hold for a while. PASSED: it did not, and is forgotten."""

    PENDING = "pending"
    RAISED = "raised"
    ACKNOWLEDGED = "acknowledged"
    CLEARED = "cleared"
    PASSED = "passed"


OPEN = frozenset({AlarmState.PENDING, AlarmState.RAISED, AlarmState.ACKNOWLEDGED})
STANDING = frozenset({AlarmState.RAISED, AlarmState.ACKNOWLEDGED})
"""What people are shown as alarms of now."""


class AlarmEvent(StrEnum):
    """RAISE may come any number of times. DUE: it has held for long enough."""

    RAISE = "raise"
    DUE = "due"
    ACKNOWLEDGE = "acknowledge"
    CLEAR = "clear"


TRANSITIONS: Mapping[tuple[AlarmState, AlarmEvent], AlarmState] = {
    (AlarmState.PENDING, AlarmEvent.RAISE): AlarmState.PENDING,
    (AlarmState.PENDING, AlarmEvent.DUE): AlarmState.RAISED,
    (AlarmState.PENDING, AlarmEvent.CLEAR): AlarmState.PASSED,
    (AlarmState.RAISED, AlarmEvent.RAISE): AlarmState.RAISED,
    (AlarmState.RAISED, AlarmEvent.ACKNOWLEDGE): AlarmState.ACKNOWLEDGED,
    (AlarmState.RAISED, AlarmEvent.CLEAR): AlarmState.CLEARED,
    (AlarmState.ACKNOWLEDGED, AlarmEvent.RAISE): AlarmState.ACKNOWLEDGED,
    (AlarmState.ACKNOWLEDGED, AlarmEvent.CLEAR): AlarmState.CLEARED,
    (AlarmState.CLEARED, AlarmEvent.RAISE): AlarmState.RAISED,
}
"""A cleared alarm comes back only while it is fresh; later its kind begins a new one."""


def follow(state: AlarmState, event: AlarmEvent) -> AlarmState:
    """The state after `event`. Raises Conflict when it cannot follow."""
    following = TRANSITIONS.get((state, event))
    if following is None:
        raise Conflict(f"an alarm that is {state.value} takes no {event.value}")
    return following


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarm:
    """One alarm. `thing` names what it is about within its kind, e.g. `garage-7/1`.

    `times` counts how often it was told; `fact` is the number of the outbox's fact that told it
    last, so that one told twice counts once. `due_at` is when a pending one becomes an alarm.
    """

    id: int = 0
    kind: str
    thing: str
    severity: Severity
    state: AlarmState
    site_id: str | None = None
    station_id: str | None = None
    evse: int | None = None
    circuit_id: str | None = None
    detail: Mapping[str, Any] = field(default_factory=dict)
    began_at: datetime
    due_at: datetime | None = None
    raised_at: datetime | None = None
    last_at: datetime
    times: int = 1
    acknowledged_at: datetime | None = None
    acknowledged_by: str = ""
    note: str = ""
    cleared_at: datetime | None = None
    cleared_by: str = ""
    fact: int = 0

    @property
    def key(self) -> str:
        """One open alarm per key."""
        return f"{self.kind}:{self.thing}"
