"""What a sign does to the alarm of its key. Pure."""

from dataclasses import replace
from datetime import datetime, timedelta

from csms.alarms.alarm import Alarm, AlarmEvent, AlarmState, follow
from csms.alarms.kinds import KINDS
from csms.alarms.signs import Begun

COMES_BACK_WITHIN = timedelta(minutes=15)
"""A cleared alarm that begins again within this time is the same one: nobody is told twice."""


NO_TIME = timedelta(0)


def begin(last: Alarm | None, sign: Begun, site_id: str | None, fact: int, now: datetime) -> Alarm | None:
    """The alarm after `sign`; `last` is the latest of its key. None: this fact was counted before.

    What is told again changes neither its state nor who has taken it on, but may make it graver.
    """
    if last is not None and fact and fact <= last.fact:
        return None
    kind = KINDS[sign.kind]
    severity = sign.severity or kind.severity
    if last is not None and _is_same(last, now):
        graver = max(severity, last.severity, key=lambda each: each.rank)
        back = last.state is AlarmState.CLEARED
        return replace(
            last,
            state=follow(last.state, AlarmEvent.RAISE),
            severity=graver,
            detail=sign.detail or last.detail,
            last_at=now,
            times=last.times + 1,
            fact=max(fact, last.fact),
            cleared_at=None,
            cleared_by="",
            acknowledged_at=None if back else last.acknowledged_at,
            acknowledged_by="" if back else last.acknowledged_by,
        )
    hold = kind.hold if sign.hold is None else sign.hold
    waits = hold > timedelta(0)
    return Alarm(
        kind=sign.kind,
        thing=sign.thing,
        severity=severity,
        state=AlarmState.PENDING if waits else AlarmState.RAISED,
        site_id=site_id,
        station_id=sign.station_id,
        evse=sign.evse,
        circuit_id=sign.circuit_id,
        detail=sign.detail,
        began_at=now,
        due_at=now + hold if waits else None,
        raised_at=None if waits else now,
        last_at=now,
        fact=fact,
    )


def _is_same(last: Alarm, now: datetime) -> bool:
    if last.state is not AlarmState.CLEARED:
        return True
    return last.cleared_at is not None and now - last.cleared_at < COMES_BACK_WITHIN


def due(alarm: Alarm, now: datetime) -> Alarm | None:
    """The alarm once it has held for long enough; None while it has not, or is none to wait for."""
    if alarm.state is not AlarmState.PENDING or alarm.due_at is None or now < alarm.due_at:
        return None
    return replace(alarm, state=follow(alarm.state, AlarmEvent.DUE), raised_at=now)


def end(alarm: Alarm, now: datetime, by: str = "", fact: int = 0) -> Alarm | None:
    """The alarm when its cause is over. A latched one stays, unless a person ends it (`by`)."""
    if fact and fact < alarm.fact:
        return None
    if KINDS[alarm.kind].latched and not by:
        return None
    return replace(
        alarm,
        state=follow(alarm.state, AlarmEvent.CLEAR),
        cleared_at=now,
        cleared_by=by,
        fact=max(fact, alarm.fact),
    )


def acknowledge(alarm: Alarm, now: datetime, by: str, note: str) -> Alarm:
    """Somebody has taken it on. Raises Conflict when it is over, or taken on already."""
    state = follow(alarm.state, AlarmEvent.ACKNOWLEDGE)
    return replace(alarm, state=state, acknowledged_at=now, acknowledged_by=by, note=note)
