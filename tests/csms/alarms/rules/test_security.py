"""Security events by their names in OCPP 2.0.1 part 2, appendix 1 (from memory)."""

from datetime import UTC, datetime
from typing import Any

import pytest

from csms.alarms.alarm import Severity
from csms.alarms.rules.security import signs
from csms.alarms.signs import Begun
from csms.store.fact import Fact


def fact(topic: str, **body: Any) -> Fact:
    return Fact(topic=topic, at=datetime(2026, 11, 2, 11, tzinfo=UTC), subject="YARD-01", body=body)


@pytest.mark.parametrize(
    ("told", "severity"),
    [("TamperDetectionActivated", Severity.URGENT), ("InvalidMessages", None), ("OurOwnEvent", None)],
)
def test_security_events_are_alarms(told: str, severity: Severity | None) -> None:
    (begun,) = signs(fact("station.security", type=told, info="door"))
    assert isinstance(begun, Begun)
    assert (begun.kind, begun.severity, begun.detail) == (
        "security",
        severity,
        {"type": told, "info": "door"},
    )


@pytest.mark.parametrize("told", ["FirmwareUpdated", "SettingSystemTime", "StartupOfTheDevice"])
def test_maintenance_is_none(told: str) -> None:
    assert signs(fact("station.security", type=told)) == ()


def test_two_chargers_with_one_identity() -> None:
    (begun,) = signs(fact("station.duplicate_identity", addresses=["10.0.0.7", "10.0.0.8"]))
    assert isinstance(begun, Begun)
    assert begun.kind == "duplicate_identity"
    assert signs(fact("station.connected")) == ()
