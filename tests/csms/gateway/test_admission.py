"""OCPP 1.6 §4.2 with errata 3.22, OCPP-J errata §3.8; OCPP 2.0.1 B02, B03."""

import pytest

from csms.gateway.admission import may_say, provoked_by, why_not_ask
from csms.ocpp.actions import FROM_CENTRAL, FROM_STATION
from csms.stations.commands import Command, GetVariables, StartCharging, StopCharging, Trigger, TriggerKind
from csms.stations.model import Registration, TokenRef

ACCEPTED, PENDING, REJECTED = Registration.ACCEPTED, Registration.PENDING, Registration.REJECTED


@pytest.mark.parametrize(
    ("registration", "action", "provoked", "may"),
    [
        (ACCEPTED, "StartTransaction", set(), True),
        (PENDING, "BootNotification", set(), True),
        (PENDING, "StatusNotification", set(), False),
        (PENDING, "StatusNotification", {"StatusNotification"}, True),
        (PENDING, "StartTransaction", {"StatusNotification"}, False),
        (REJECTED, "BootNotification", set(), True),
        (REJECTED, "StatusNotification", {"StatusNotification"}, False),
        (REJECTED, "Heartbeat", set(), False),
    ],
)
def test_what_a_station_may_say(
    registration: Registration, action: str, provoked: set[str], may: bool
) -> None:
    assert may_say(registration, action, provoked) is may


@pytest.mark.parametrize(
    ("action", "payload", "provoked"),
    [
        ("TriggerMessage", {"requestedMessage": "StatusNotification"}, "StatusNotification"),
        ("GetBaseReport", {"requestId": 1, "reportBase": "FullInventory"}, "NotifyReport"),
        ("Reset", {"type": "Soft"}, None),
    ],
)
def test_what_our_calls_provoke(action: str, payload: dict[str, object], provoked: str | None) -> None:
    assert provoked_by(action, payload) == provoked


START = StartCharging(1, TokenRef("04AB"), 1)


@pytest.mark.parametrize(
    ("registration", "command", "may"),
    [
        (ACCEPTED, START, True),
        (PENDING, START, False),
        (PENDING, StopCharging("7"), False),
        (PENDING, Trigger(TriggerKind.BOOT), True),
        (PENDING, GetVariables(()), True),
        (REJECTED, GetVariables(()), False),
        (REJECTED, START, False),
    ],
)
def test_what_a_station_may_be_asked(registration: Registration, command: Command, may: bool) -> None:
    assert (why_not_ask(registration, command) is None) is may


@pytest.mark.parametrize(
    ("action", "wanted", "provoked"),
    [
        ("ExtendedTriggerMessage", "SignChargePointCertificate", "SignCertificate"),
        ("TriggerMessage", "SignChargingStationCertificate", "SignCertificate"),
        ("TriggerMessage", "SignV2G20Certificate", "SignCertificate"),
        ("ExtendedTriggerMessage", "FirmwareStatusNotification", "SignedFirmwareStatusNotification"),
        ("TriggerMessage", "FirmwareStatusNotification", "FirmwareStatusNotification"),
    ],
)
def test_a_trigger_provokes_the_message_and_not_its_own_word(action: str, wanted: str, provoked: str) -> None:
    assert provoked_by(action, {"requestedMessage": wanted}) == provoked


def test_what_a_call_provokes_is_something_that_a_station_may_say() -> None:
    calls: set[str] = set().union(*FROM_CENTRAL.values())
    said: set[str] = set().union(*FROM_STATION.values())
    provoked = {answer for call in calls if (answer := provoked_by(call, {}))}
    assert {"NotifyReport", "SignedFirmwareStatusNotification", "ReportDERControl"} <= provoked <= said
