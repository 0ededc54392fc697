"""The rules of presence: registration, intervals, texts, and which status counts."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from csms.stations.commands import Trigger, TriggerKind
from csms.stations.events import StatusReported
from csms.stations.model import EvseStatus, Registration
from csms.stations.presence import (
    StatusOutcome,
    boot_interval,
    clean,
    clean_boot,
    decide_status,
    is_another,
    place_of,
    questions_after_connect,
    registration_at_boot,
    spread,
    told_at,
)
from csms.stations.questions import Boot
from csms.stations.record import Evse, Station

NOW = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)
MINUTE = timedelta(minutes=1)


def report(
    status: EvseStatus, *, at: datetime | None = NOW, connector: int = 1, evse: int = 1
) -> StatusReported:
    return StatusReported(evse=evse, connector=connector, status=status, at=at)


def kept(status: EvseStatus, *, at: datetime | None = NOW, connector: int = 1) -> Evse:
    return Evse(station_id="B1", number=1, connector=connector, status=status, status_at=at)


@pytest.mark.parametrize(("draw", "interval"), [(0.0, 270), (0.5, 300), (0.999999, 330)])
def test_heartbeats_are_drawn_apart_by_a_tenth(draw: float, interval: int) -> None:
    assert boot_interval(Registration.ACCEPTED, heartbeat_s=300, draw=draw) == interval


def test_an_interval_is_never_zero() -> None:
    # Zero would let the station choose (OCPP 1.6, 4.2).
    assert spread(0.4, 0.0) == 1


def test_who_waits_and_who_is_not_wanted_comes_back_later() -> None:
    assert boot_interval(Registration.PENDING, heartbeat_s=60, draw=0.5) == 300
    assert boot_interval(Registration.REJECTED, heartbeat_s=60, draw=0.5) == 3600


@pytest.mark.parametrize("registration", list(Registration))
@pytest.mark.parametrize("accept_unknown", [True, False])
def test_a_known_station_keeps_its_registration(registration: Registration, accept_unknown: bool) -> None:
    assert registration_at_boot(registration, accept_unknown=accept_unknown) is registration


def test_an_unknown_station_waits_or_is_sent_away() -> None:
    assert registration_at_boot(None, accept_unknown=True) is Registration.PENDING
    assert registration_at_boot(None, accept_unknown=False) is Registration.REJECTED


@pytest.mark.parametrize(
    ("told", "text"),
    [
        ("Loom 22", "Loom 22"),
        ("  Loom\0\0\0", "Loom"),
        ("Loom\r\n22", "Loom 22"),
        ("\0", ""),
        ("x" * 300, "x" * 255),
        ("x" * 254 + " y", "x" * 254),
    ],
)
def test_texts_of_stations_are_made_fit_to_keep(told: str, text: str) -> None:
    assert clean(told) == text


def test_a_boot_with_odd_texts_is_cleaned_whole() -> None:
    boot = clean_boot(Boot(vendor="V\0", model=" M ", serial="s" * 999, firmware="1.0\n"))
    assert boot == Boot(vendor="V", model="M", serial="s" * 255, firmware="1.0")


@pytest.mark.parametrize(
    ("at", "counts"),
    [
        (None, NOW),
        (NOW - MINUTE, NOW - MINUTE),
        (NOW + MINUTE, NOW),
        (datetime(1970, 1, 1, 0, 5, tzinfo=UTC), NOW),
        (datetime(2000, 1, 1, tzinfo=UTC), NOW),
    ],
)
def test_the_time_of_a_status(at: datetime | None, counts: datetime) -> None:
    assert told_at(at, NOW) == counts


def test_an_evse_that_nobody_knew_is_unconfirmed() -> None:
    decision = decide_status(None, "B1", report(EvseStatus.AVAILABLE, evse=2), NOW)
    assert decision.outcome is StatusOutcome.CHANGED
    assert decision.evse == Evse(
        station_id="B1", number=2, confirmed=False, status=EvseStatus.AVAILABLE, status_at=NOW
    )


def test_the_station_as_a_whole_needs_no_confirmation() -> None:
    assert decide_status(None, "B1", report(EvseStatus.AVAILABLE, evse=0), NOW).evse.confirmed


def test_the_first_word_of_a_declared_evse_counts_whatever_its_clock() -> None:
    silent = Evse(station_id="B1", number=1)
    decision = decide_status(silent, "B1", report(EvseStatus.AVAILABLE, at=NOW - timedelta(days=9)), NOW)
    assert decision.outcome is StatusOutcome.CHANGED
    assert decision.evse.confirmed


def test_an_older_status_does_not_overwrite_a_newer_one() -> None:
    charging = kept(EvseStatus.CHARGING)
    decision = decide_status(charging, "B1", report(EvseStatus.AVAILABLE, at=NOW - MINUTE), NOW)
    assert (decision.outcome, decision.evse) == (StatusOutcome.LATE, charging)


def test_of_two_at_one_instant_the_later_arrival_counts() -> None:
    decision = decide_status(kept(EvseStatus.PREPARING), "B1", report(EvseStatus.CHARGING), NOW)
    assert (decision.outcome, decision.evse.status) == (StatusOutcome.CHANGED, EvseStatus.CHARGING)


def test_the_same_again_is_only_fresher() -> None:
    decision = decide_status(
        kept(EvseStatus.CHARGING, at=NOW - MINUTE), "B1", report(EvseStatus.CHARGING), NOW
    )
    assert (decision.outcome, decision.evse.status_at) == (StatusOutcome.REFRESHED, NOW)


def test_a_warning_is_a_change_and_is_cleaned() -> None:
    told = StatusReported(
        evse=1,
        connector=1,
        status=EvseStatus.CHARGING,
        error="HighTemperature" + "x" * 99,
        info="plug\0 warm",
        vendor_error="E17",
        at=NOW,
    )
    decision = decide_status(kept(EvseStatus.CHARGING), "B1", told, NOW)
    assert decision.outcome is StatusOutcome.CHANGED
    assert decision.evse.error == ("HighTemperature" + "x" * 99)[:50]
    assert decision.evse.info == "plug warm E17"


@pytest.mark.parametrize(
    ("status", "connector", "reported", "other", "speaks"),
    [
        (EvseStatus.AVAILABLE, 1, EvseStatus.OCCUPIED, 2, 2),
        (EvseStatus.OCCUPIED, 1, EvseStatus.AVAILABLE, 2, 1),
        (EvseStatus.OCCUPIED, 1, EvseStatus.UNAVAILABLE, 2, 1),
        (EvseStatus.OCCUPIED, 2, EvseStatus.AVAILABLE, 2, 2),
        (EvseStatus.FAULTED, 1, EvseStatus.AVAILABLE, 2, 2),
        (EvseStatus.AVAILABLE, 1, EvseStatus.RESERVED, 2, 2),
    ],
)
def test_of_several_connectors_the_one_in_use_speaks(
    status: EvseStatus, connector: int, reported: EvseStatus, other: int, speaks: int
) -> None:
    before = kept(status, connector=connector, at=NOW - MINUTE)
    assert decide_status(before, "B1", report(reported, connector=other), NOW).evse.connector == speaks


def test_who_has_come_back_is_asked_for_its_status_only() -> None:
    asked = questions_after_connect(registration=Registration.ACCEPTED, refuses_trigger=False)
    assert asked == (Trigger(TriggerKind.STATUS),)


@pytest.mark.parametrize(
    ("registration", "refuses"),
    [(Registration.PENDING, False), (Registration.REJECTED, False), (Registration.ACCEPTED, True)],
)
def test_who_cannot_tell_is_not_asked(registration: Registration, refuses: bool) -> None:
    assert questions_after_connect(registration=registration, refuses_trigger=refuses) == ()


def planned(serial: str = "WY 0001", **more: Any) -> Station:
    return Station(
        id="BAY-1", registration=Registration.ACCEPTED, created_at=NOW, expected_serial=serial, **more
    )


def test_a_charger_joins_the_one_free_place_where_its_serial_is_expected() -> None:
    place = planned()
    assert place_of("wy0001", (place,)) is place
    assert place_of("", (planned(""),)) is None
    assert place_of("WY 0001", ()) is None
    assert place_of("WY 0001", (place, planned())) is None
    assert place_of("WY 0001", (planned(booted_at=NOW),)) is None
    assert place_of("WY 0001", (planned(has_key=True),)) is None


@pytest.mark.parametrize(
    ("station", "told", "another"),
    [
        (planned(), "WY 0002", True),
        (planned(), " wy 0001", False),
        (planned(), "", False),
        (planned(""), "WY 0002", False),
        (planned(booted_at=NOW), "WY 0002", False),
    ],
)
def test_another_charger_than_planned_is_noticed_when_it_first_comes(
    station: Station, told: str, another: bool
) -> None:
    assert is_another(station, told) is another


def test_a_loop_of_boots_doubles_the_interval_up_to_an_hour() -> None:
    def told(recent: int, heartbeat_s: int = 300) -> int:
        return boot_interval(Registration.ACCEPTED, heartbeat_s=heartbeat_s, draw=0.5, recent=recent)

    assert [told(n) for n in (0, 1, 5, 6, 7, 8, 9, 50)] == [300, 300, 300, 600, 1200, 2400, 3600, 3600]
    assert told(50, heartbeat_s=7200) == 7200, "never shorter than usual"
