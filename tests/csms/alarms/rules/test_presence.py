"""Chargers that are gone or others."""

from datetime import UTC, datetime
from typing import Any

import pytest

from csms.alarms.rules.presence import signs
from csms.alarms.signs import Begun, Over
from csms.store.fact import Fact

AT = datetime(2026, 11, 2, 11, tzinfo=UTC)


def fact(topic: str, **body: Any) -> Fact:
    return Fact(topic=topic, at=AT, site_id="weavers-yard", subject="YARD-01", body=body)


def test_lost_and_back() -> None:
    (lost,) = signs(fact("station.lost", reason="ping timeout"))
    assert isinstance(lost, Begun)
    assert (lost.kind, lost.station_id, lost.detail) == (
        "charger_lost",
        "YARD-01",
        {"reason": "ping timeout"},
    )
    assert signs(fact("station.connected")) == (Over(frozenset({"charger_lost"}), "YARD-01"),)


def test_another_charger_than_expected() -> None:
    (other,) = signs(fact("station.wrong_serial", serial="W-2", expected="W-1"))
    assert isinstance(other, Begun)
    assert other.detail == {"serial": "W-2", "expected": "W-1"}
    (over,) = signs(fact("station.commissioned"))
    assert over == Over(frozenset({"wrong_serial"}), "YARD-01")


def test_a_deleted_charger_takes_its_alarms_with_it() -> None:
    (over,) = signs(fact("station.deleted"))
    assert isinstance(over, Over)
    assert (over.thing, over.station_id) == (None, "YARD-01")


@pytest.mark.parametrize("topic", ["station.booted", "station.changed", "session.ended"])
def test_the_rest_is_no_sign(topic: str) -> None:
    assert signs(fact(topic)) == ()
