"""Certificates, upgrades and firmware that go wrong."""

from datetime import UTC, datetime
from typing import Any

import pytest

from csms.alarms.rules.certificates import FIRMWARE_DONE, FIRMWARE_FAILED, signs
from csms.alarms.signs import Begun, Over
from csms.stations.words.firmware import FirmwareState
from csms.store.fact import Fact


def fact(topic: str, **body: Any) -> Fact:
    return Fact(topic=topic, at=datetime(2026, 11, 2, 11, tzinfo=UTC), subject="YARD-01", body=body)


@pytest.mark.parametrize(
    ("topic", "kind", "over"),
    [
        ("station.certificate_ends", "certificate_expires", "station.certificate"),
        ("station.certificate_failed", "certificate_failed", "station.certificate"),
        ("station.security_upgrade", "upgrade_failed", "station.security_profile"),
    ],
)
def test_what_goes_wrong_and_what_ends_it(topic: str, kind: str, over: str) -> None:
    (begun,) = signs(fact(topic, problem="no room", detail=""))
    assert isinstance(begun, Begun)
    assert (begun.kind, begun.station_id, begun.detail) == (kind, "YARD-01", {"problem": "no room"})
    (end,) = signs(fact(over))
    assert isinstance(end, Over)
    assert kind in end.kinds


def test_firmware() -> None:
    (begun,) = signs(fact("station.firmware", told={"state": "invalid_signature"}))
    assert isinstance(begun, Begun)
    assert begun.kind == "firmware_failed"
    assert signs(fact("station.firmware", told={"state": "downloading"})) == ()
    assert signs(fact("station.firmware", told={"state": "installed"})) == (
        Over(frozenset({"firmware_failed"}), "YARD-01"),
    )
    assert {state.value for state in FirmwareState} >= FIRMWARE_FAILED | FIRMWARE_DONE


def test_other_facts_are_no_signs() -> None:
    assert signs(fact("station.booted")) == ()
