"""Alarms as rows of a page. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from csms.alarms.alarm import Alarm, AlarmState, Severity
from csms.alarms.kinds import KINDS
from csms.alarms.message import WEIGHT

TONE: Mapping[Severity, str] = {Severity.NOTICE: "idle", Severity.WARNING: "wait", Severity.URGENT: "bad"}


@dataclass(frozen=True, slots=True)
class AlarmRow:
    """`tone` colours the weight; `told` are the charger's own words; `taken` says who sees to it."""

    id: int
    tone: str
    weight: str
    where: str
    title: str
    what_to_do: str
    told: str
    began: datetime
    times: int
    taken: str
    over: datetime | None
    open_to_take: bool


def alarm_row(alarm: Alarm, names: Mapping[str, str]) -> AlarmRow:
    """`names`: what people call chargers and circuits, by id."""
    kind = KINDS[alarm.kind]
    ended = alarm.state is AlarmState.CLEARED
    return AlarmRow(
        id=alarm.id,
        tone="good" if ended else TONE[alarm.severity],
        weight="Over" if ended else WEIGHT[alarm.severity],
        where=_where(alarm, names),
        title=kind.title,
        what_to_do=kind.what_to_do,
        told=", ".join(f"{name.replace('_', ' ')}: {value}" for name, value in alarm.detail.items() if value),
        began=alarm.began_at,
        times=alarm.times,
        taken=_taken(alarm),
        over=alarm.cleared_at,
        open_to_take=alarm.state is AlarmState.RAISED,
    )


def _where(alarm: Alarm, names: Mapping[str, str]) -> str:
    if alarm.station_id is None:
        return names.get(alarm.circuit_id or "", alarm.circuit_id or "The site")
    name = names.get(alarm.station_id, alarm.station_id)
    return f"{name} / {alarm.evse}" if alarm.evse and alarm.evse > 1 else name


def _taken(alarm: Alarm) -> str:
    if not alarm.acknowledged_by:
        return ""
    who = alarm.acknowledged_by.partition(":")[2] or alarm.acknowledged_by
    return f"{who} sees to it" + (f": {alarm.note}" if alarm.note else "")


def gravest_first(alarms: tuple[Alarm, ...]) -> list[Alarm]:
    """What nobody has taken on before what somebody has, then by weight, then the newest."""
    return sorted(
        alarms, key=lambda each: (each.state is AlarmState.ACKNOWLEDGED, -each.severity.rank, -each.id)
    )
