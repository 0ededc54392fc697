"""Errors as OCPP 1.6 names them (section 7.6, ChargePointErrorCode), case and blanks aside."""

from datetime import UTC, datetime
from typing import Any

import pytest
from ocpp.v16.enums import ChargePointErrorCode

from csms.alarms.kinds import KINDS
from csms.alarms.rules.faults import FROM_STATUS, signs
from csms.alarms.signs import Begun, Over, Sign
from csms.store.fact import Fact


def told(error: str, status: str = "available", **more: Any) -> tuple[Sign, ...]:
    body = {"station": "Bay 1", "evse": 1, "connector": 1, "status": status, "error": error, **more}
    at = datetime(2026, 11, 2, 11, tzinfo=UTC)
    return signs(Fact(topic="station.status", at=at, subject="YARD-01", body=body))


@pytest.mark.parametrize(
    ("error", "status", "kind"),
    [
        ("GroundFailure", "faulted", "ground_fault"),
        ("ground failure", "available", "ground_fault"),
        ("HighTemperature", "charging", "over_temperature"),
        ("HighTemperature", "faulted", "over_temperature_stop"),
        ("PowerSwitchFailure", "faulted", "contactor"),
        ("PowerMeterFailure", "available", "meter_failure"),
        ("UnderVoltage", "available", "voltage"),
        ("NoError", "faulted", "fault"),
        ("WeakSignal", "faulted", "fault"),
        ("E47-welded", "available", "fault"),
    ],
)
def test_an_error_is_an_alarm_of_its_kind(error: str, status: str, kind: str) -> None:
    over, begun = told(error, status)
    assert isinstance(begun, Begun)
    assert (begun.kind, begun.thing, begun.evse) == (kind, "YARD-01/1", 1)
    assert over == Over(FROM_STATUS - {kind}, "YARD-01/1"), "what it does not tell is over"


@pytest.mark.parametrize("error", ["", "NoError", "WeakSignal", "LocalListConflict"])
def test_no_error_ends_all(error: str) -> None:
    assert told(error) == (Over(FROM_STATUS, "YARD-01/1"),)


def test_every_code_of_the_standard_is_known() -> None:
    for code in ChargePointErrorCode:
        for sign in told(code.value):
            if isinstance(sign, Begun):
                assert sign.kind in KINDS
    kinds = {
        sign.kind for code in ChargePointErrorCode for sign in told(code.value) if isinstance(sign, Begun)
    }
    assert len(kinds) >= 9


def test_the_whole_charger_has_no_evse() -> None:
    begun = told("OverVoltage", evse=0)[1]
    assert isinstance(begun, Begun)
    assert begun.evse is None


def test_other_facts_are_no_signs() -> None:
    at = datetime(2026, 11, 2, 11, tzinfo=UTC)
    assert signs(Fact(topic="station.booted", at=at, subject="YARD-01")) == ()
