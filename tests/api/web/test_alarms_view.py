"""Alarms as rows."""

from dataclasses import replace
from datetime import UTC, datetime

from api.web.alarms_view import alarm_row, gravest_first
from csms.alarms.alarm import Alarm, AlarmState, Severity

NOW = datetime(2026, 11, 2, 11, tzinfo=UTC)
ALARM = Alarm(
    id=1,
    kind="over_limit",
    thing="main/L1",
    severity=Severity.URGENT,
    state=AlarmState.RAISED,
    circuit_id="main",
    detail={"line": "L1", "empty": ""},
    began_at=NOW,
    last_at=NOW,
)


def test_things_have_names() -> None:
    row = alarm_row(ALARM, {"main": "Supply"})
    assert (row.where, row.told, row.tone, row.open_to_take) == ("Supply", "line: L1", "bad", True)
    station = replace(ALARM, station_id="garage-1", evse=2)
    assert alarm_row(station, {"garage-1": "Bay 1"}).where == "Bay 1 / 2"
    assert alarm_row(replace(ALARM, circuit_id=None), {}).where == "The site"


def test_who_sees_to_it() -> None:
    taken = replace(ALARM, state=AlarmState.ACKNOWLEDGED, acknowledged_by="person:forewoman", note="")
    assert alarm_row(taken, {}).taken == "forewoman sees to it"
    over = alarm_row(replace(taken, state=AlarmState.CLEARED), {})
    assert (over.weight, over.tone, over.open_to_take) == ("Over", "good", False)


def test_what_nobody_has_taken_on_comes_first() -> None:
    taken = replace(ALARM, id=2, state=AlarmState.ACKNOWLEDGED)
    light = replace(ALARM, id=3, severity=Severity.NOTICE)
    newer = replace(ALARM, id=4)
    assert [alarm.id for alarm in gravest_first((taken, light, ALARM, newer))] == [4, 1, 3, 2]
