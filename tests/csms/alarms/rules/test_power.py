"""What the sharing notices."""

from datetime import UTC, datetime
from typing import Any

from csms.alarms.rules.power import KIND_BY_NOTICE, signs
from csms.alarms.signs import Begun, Over
from csms.store.fact import Fact

AT = datetime(2026, 11, 2, 11, tzinfo=UTC)


def fact(topic: str, subject: str, **body: Any) -> Fact:
    empty = {"station": None, "evse": None, "circuit": None, "line": None}
    return Fact(topic=topic, at=AT, site_id="weavers-yard", subject=subject, body=empty | body)


def test_a_disobeyed_limit_begins_and_ends() -> None:
    (begun,) = signs(fact("power.offer_ignored", "YARD-01/1", station="YARD-01", evse=1))
    assert begun == Begun(kind="limit_ignored", thing="YARD-01/1", station_id="YARD-01", evse=1)
    (over,) = signs(fact("power_over.offer_ignored", "YARD-01/1", station="YARD-01", evse=1))
    assert over == Over(frozenset({"limit_ignored"}), "YARD-01/1")


def test_each_line_of_a_circuit_is_its_own_alarm() -> None:
    things = set()
    for line in ("L1", "L2"):
        (begun,) = signs(fact("power.over_limit", "supply", circuit="supply", line=line))
        assert isinstance(begun, Begun)
        assert (begun.circuit_id, begun.detail) == ("supply", {"line": line})
        things.add(begun.thing)
    assert len(things) == 2


def test_heat_that_we_see_does_not_end_heat_that_the_charger_tells() -> None:
    (over,) = signs(fact("power_over.derated", "YARD-01/1", station="YARD-01", evse=1))
    assert isinstance(over, Over)
    assert over.thing != "YARD-01/1"


def test_the_rest_is_for_the_page() -> None:
    assert "car_asleep" not in KIND_BY_NOTICE
    assert signs(fact("power.car_asleep", "YARD-01/1")) == ()
    assert signs(fact("station.clock_off", "YARD-01/1")) == ()
