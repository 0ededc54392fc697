"""What the rules say of a fact: something has begun, or is over."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from csms.alarms.alarm import Severity


@dataclass(frozen=True, slots=True, kw_only=True)
class Begun:
    """`kind` is one of `kinds.KINDS`. `severity` None: that of the kind. `hold` None: that of the kind."""

    kind: str
    thing: str
    station_id: str | None = None
    evse: int | None = None
    circuit_id: str | None = None
    severity: Severity | None = None
    hold: timedelta | None = None
    detail: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Over:
    """`kinds` are over at `thing`; None: at everything of station `station_id`."""

    kinds: frozenset[str]
    thing: str | None
    station_id: str | None = None


Sign = Begun | Over
