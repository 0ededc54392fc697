"""The words of an alarm: as mail, and as the body that a webhook is sent. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from csms.alarms.alarm import Alarm, Severity
from csms.alarms.deliveries import Occasion
from csms.alarms.kinds import KINDS

WEIGHT: Mapping[Severity, str] = {
    Severity.NOTICE: "Notice",
    Severity.WARNING: "Warning",
    Severity.URGENT: "Urgent",
}

CAUTION = (
    "Phaseyard is no protective device: fuses, breakers and residual-current protection are. "
    "Work on them is for a licensed electrician."
)


@dataclass(frozen=True, slots=True)
class Place:
    """What people call where it is."""

    site: str
    time_zone: str
    where: str


def subject(alarm: Alarm, place: Place, occasion: Occasion) -> str:
    """One line, e.g. `Urgent: garage-7 / 1: Earth fault or residual current (Weavers' Yard)`."""
    weight = "Over" if occasion is Occasion.CLEARED else WEIGHT[alarm.severity]
    title = KINDS[alarm.kind].title
    return " ".join(f"{weight}: {place.where}: {title} ({place.site})".split())


def text(alarm: Alarm, place: Place, occasion: Occasion) -> str:
    """The mail's body: what, where, since when, what the charger told, what to do."""
    kind = KINDS[alarm.kind]
    lines = [f"{place.where}, {place.site}", kind.title, ""]
    lines.append(f"Began: {_local(alarm.began_at, place)}")
    if alarm.times > 1:
        lines.append(f"Told {alarm.times} times, last at {_local(alarm.last_at, place)}")
    if occasion is Occasion.CLEARED and alarm.cleared_at:
        by = f" by {alarm.cleared_by}" if alarm.cleared_by else ""
        lines.append(f"Over: {_local(alarm.cleared_at, place)}{by}")
    lines += [f"{name.replace('_', ' ')}: {value}" for name, value in sorted(alarm.detail.items()) if value]
    if occasion is Occasion.RAISED:
        lines += ["", f"What to do: {kind.what_to_do}"]
        if alarm.severity is Severity.URGENT:
            lines += ["", CAUTION]
    return "\n".join(lines) + "\n"


def body(alarm: Alarm, place: Place, occasion: Occasion) -> dict[str, Any]:
    """What a webhook is sent; instants in UTC."""
    return {
        "type": f"alarm.{occasion.value}",
        "timestamp": _utc(alarm.cleared_at if occasion is Occasion.CLEARED else alarm.raised_at),
        "data": {
            "id": alarm.id,
            "kind": alarm.kind,
            "title": KINDS[alarm.kind].title,
            "severity": alarm.severity.value,
            "state": alarm.state.value,
            "site_id": alarm.site_id,
            "station_id": alarm.station_id,
            "evse": alarm.evse,
            "circuit_id": alarm.circuit_id,
            "detail": dict(alarm.detail),
            "began_at": _utc(alarm.began_at),
            "times": alarm.times,
        },
    }


def _utc(at: datetime | None) -> str | None:
    return None if at is None else at.isoformat().replace("+00:00", "Z")


def _local(at: datetime, place: Place) -> str:
    return f"{at.astimezone(ZoneInfo(place.time_zone)):%Y-%m-%d %H:%M:%S %Z}"
