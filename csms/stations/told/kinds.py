"""Under which kind each word is kept, and the fact that it becomes."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.words import (
    battery,
    costs,
    der,
    display,
    firmware,
    limits,
    lists,
    monitoring,
    security,
)

KEPT: Mapping[type[Event] | type[Question], str] = {
    security.SecurityEventReported: "security_event",
    security.CertificateAsked: "certificate_asked",
    security.ContractCertificateAsked: "contract_asked",
    security.RevocationAsked: "revocation_asked",
    security.ChainStatusAsked: "chain_asked",
    firmware.FirmwareReported: "firmware",
    firmware.FirmwarePublished: "firmware_published",
    firmware.LogReported: "log",
    lists.ReservationReported: "reservation",
    monitoring.MonitorsReported: "monitors",
    monitoring.CustomerReported: "customer",
    monitoring.StreamOpened: "stream_opened",
    monitoring.StreamClosed: "stream_closed",
    monitoring.StreamReported: "stream",
    display.DisplayMessagesReported: "display",
    limits.LimitReported: "limit",
    limits.LimitCleared: "limit_cleared",
    limits.EvScheduleReported: "ev_schedule",
    limits.PriorityReported: "priority",
    limits.ScheduleUpdateAsked: "schedule_asked",
    costs.SettlementReported: "settlement",
    costs.VatNumberAsked: "vat_asked",
    der.DerControlsReported: "der_controls",
    der.DerAlarmReported: "der_alarm",
    der.DerReported: "der",
    battery.BatterySwapped: "battery",
}

COST = "cost"
"""What a station calculated for a transaction; comes with a step of it."""

KINDS: tuple[str, ...] = tuple(sorted({*KEPT.values(), COST}))
"""Every kind."""

QUIET = frozenset({monitoring.StreamReported, limits.ScheduleUpdateAsked})
"""Kept, but too many to be facts."""


@dataclass(frozen=True, slots=True)
class Told:
    """A kept word. `at`: its arrival; `body`: its fields as JSON."""

    id: int
    station_id: str
    kind: str
    at: datetime
    evse: int | None
    request_id: int | None
    body: Any


def topic_of(kind: type[Event] | type[Question]) -> str | None:
    """The topic of the fact, `station.` and the kind; None for what is quiet."""
    if kind is security.SecurityEventReported:
        return "station.security"
    return None if kind in QUIET else f"station.{KEPT[kind]}"


def fact_of(word: object, body: Any) -> dict[str, Any]:
    """What the fact says: the word as JSON, and of a security event what alarms look at."""
    if isinstance(word, security.SecurityEventReported):
        return {"told": body, "type": body["kind"], "info": body["info"]}
    return {"told": body}


def number_of(word: object, name: str) -> int | None:
    """The word's `evse` or `request_id`, None when it has none."""
    value = getattr(word, name, None)
    return value if isinstance(value, int) else None
