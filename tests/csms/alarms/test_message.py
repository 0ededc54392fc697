"""The words that people get."""

from dataclasses import replace
from datetime import UTC, datetime

from csms.alarms.alarm import Alarm, AlarmState, Severity
from csms.alarms.deliveries import Occasion
from csms.alarms.message import CAUTION, Place, body, subject, text

NOW = datetime(2026, 11, 2, 11, tzinfo=UTC)
PLACE = Place("Weavers' Yard", "Europe/Oslo", "Courtyard 7")
ALARM = Alarm(
    id=5,
    kind="over_temperature_stop",
    thing="YARD-07/1",
    severity=Severity.URGENT,
    state=AlarmState.RAISED,
    site_id="weavers-yard",
    station_id="YARD-07",
    evse=1,
    detail={"error": "HighTemperature", "info": ""},
    began_at=NOW,
    raised_at=NOW,
    last_at=NOW,
)


def test_the_subject_says_how_grave_where_and_what() -> None:
    assert (
        subject(ALARM, PLACE, Occasion.RAISED)
        == "Urgent: Courtyard 7: Stopped because it is too hot (Weavers' Yard)"
    )
    assert subject(ALARM, PLACE, Occasion.CLEARED).startswith("Over: Courtyard 7")


def test_a_line_break_from_a_charger_does_not_get_into_the_subject() -> None:
    odd = Place("Weavers' Yard\r\nBcc: all@weavers.example", "UTC", "Courtyard 7")
    assert "\n" not in subject(ALARM, odd, Occasion.RAISED)


def test_the_text_is_in_the_sites_time_and_says_what_to_do() -> None:
    said = text(ALARM, PLACE, Occasion.RAISED)
    assert "Began: 2026-11-02 12:00:00 CET" in said
    assert "error: HighTemperature" in said
    assert "info" not in said
    assert "What to do: Let it cool down" in said
    assert CAUTION in said


def test_the_end_says_who_ended_it() -> None:
    over = replace(ALARM, state=AlarmState.CLEARED, cleared_at=NOW, cleared_by="person:caretaker", times=3)
    said = text(over, PLACE, Occasion.CLEARED)
    assert "Over: 2026-11-02 12:00:00 CET by person:caretaker" in said
    assert "Told 3 times" in said
    assert "What to do" not in said


def test_the_body_for_programs() -> None:
    sent = body(ALARM, PLACE, Occasion.RAISED)
    assert (sent["type"], sent["timestamp"]) == ("alarm.raised", "2026-11-02T11:00:00Z")
    assert sent["data"]["kind"] == "over_temperature_stop"
    assert sent["data"]["station_id"] == "YARD-07"
