"""What a sound site and a sound circuit are, and which field is named when they are not."""

import dataclasses
import math
from collections.abc import Callable
from datetime import UTC, datetime, time
from typing import Any

import pytest

from csms.errors import InvalidInput, NotFound
from csms.sites.model import (
    CapWindow,
    Circuit,
    CircuitMeter,
    MeterCounts,
    Site,
    System,
    check_circuit,
    check_site,
    path_to_root,
)

SITE = Site(
    id="weavers-yard",
    name="Weavers' Yard",
    time_zone="Europe/Brussels",
    currency="EUR",
    system=System.TN_400,
    active=False,
    created_at=datetime(2026, 11, 2, tzinfo=UTC),
)
SUPPLY = Circuit(
    id="supply", site_id="weavers-yard", name="Supply", fed_from=None, limit_a=(63, 63, 63), device_a=63
)
COURTYARD = dataclasses.replace(
    SUPPLY, id="courtyard", name="Courtyard board", fed_from="supply", limit_a=(40, 40, 40), device_a=50
)
BAKERY = dataclasses.replace(COURTYARD, id="bakery", name="Bakery", fed_from="courtyard")


def changed(thing: Any, changes: dict[str, Any]) -> Any:
    return dataclasses.replace(thing, **changes)


def field_of(check: Callable[[], object]) -> str:
    with pytest.raises(InvalidInput) as caught:
        check()
    return caught.value.field


def test_a_sound_site_is_kept_with_its_name_trimmed() -> None:
    assert check_site(dataclasses.replace(SITE, name="  Weavers' Yard ")) == SITE


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"id": "Weavers Yard"}, "id"),
        ({"id": ""}, "id"),
        ({"id": "-yard"}, "id"),
        ({"id": "y" * 41}, "id"),
        ({"name": " "}, "name"),
        ({"name": "y" * 121}, "name"),
        ({"name": "two\nlines"}, "name"),
        ({"name": "nul\0"}, "name"),
        ({"time_zone": "Europe"}, "time_zone"),
        ({"time_zone": "Brussels"}, "time_zone"),
        ({"time_zone": "../UTC"}, "time_zone"),
        ({"time_zone": "localtime"}, "time_zone"),
        ({"time_zone": ""}, "time_zone"),
        ({"currency": "eur"}, "currency"),
        ({"currency": "EURO"}, "currency"),
        ({"currency": "ZZZ"}, "currency"),
        ({"system": "TN-C"}, "system"),
    ],
)
def test_an_unsound_site_names_the_field(changes: dict[str, Any], field: str) -> None:
    assert field_of(lambda: check_site(changed(SITE, changes))) == field


@pytest.mark.parametrize("text", ["TN-400", "TT-400", "IT-230", "TT-230"])
def test_each_system_is_read_from_its_text(text: str) -> None:
    site = changed(SITE, {"system": text})
    assert check_site(site).system is System(text)


def test_a_sound_tree_is_kept() -> None:
    circuits = (SUPPLY, COURTYARD, BAKERY)
    assert [check_circuit(circuit, circuits) for circuit in circuits] == list(circuits)


def test_a_line_that_is_not_there_has_limit_zero() -> None:
    single = dataclasses.replace(SUPPLY, limit_a=(0, 40, 0))
    assert check_circuit(single, ()).limit_a == (0.0, 40.0, 0.0)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"cap_windows": (CapWindow(time(7), time(9), -1),)}, "cap_windows[0].cap_w"),
        ({"cap_windows": (CapWindow(time(7), time(9), 1),) * 49}, "cap_windows"),
        ({"id": "C 1"}, "id"),
        ({"name": ""}, "name"),
        ({"limit_a": (63, -1, 63)}, "limit_a.L2"),
        ({"limit_a": (math.nan, 63, 63)}, "limit_a.L1"),
        ({"limit_a": (63, 63, math.inf)}, "limit_a.L3"),
        ({"limit_a": (0, 0, 0)}, "limit_a"),
        ({"limit_a": (63, 63)}, "limit_a"),
        ({"limit_a": (63, 63, 64)}, "limit_a.L3"),
        ({"device_a": -63}, "device_a"),
        ({"device_a": 1e6}, "device_a"),
        ({"cap_w": -1}, "cap_w"),
        ({"unbalance_a": -1}, "unbalance_a"),
        ({"worst_base_a": (0, 0, -0.5)}, "worst_base_a.L3"),
        ({"limit_a": (63, 0, 63), "worst_base_a": (0, 5, 0)}, "worst_base_a.L2"),
        ({"meter": CircuitMeter(MeterCounts.BASE, 0)}, "meter.period_s"),
        ({"meter": CircuitMeter(MeterCounts.TOTAL, math.nan)}, "meter.period_s"),
    ],
)
def test_an_unsound_circuit_names_the_field(changes: dict[str, Any], field: str) -> None:
    assert field_of(lambda: check_circuit(changed(SUPPLY, changes), ())) == field


@pytest.mark.parametrize(
    "circuit",
    [
        pytest.param(dataclasses.replace(COURTYARD, fed_from="cellar"), id="unknown"),
        pytest.param(dataclasses.replace(COURTYARD, fed_from="courtyard"), id="itself"),
        pytest.param(dataclasses.replace(COURTYARD, fed_from="bakery"), id="loop"),
        pytest.param(dataclasses.replace(COURTYARD, fed_from=None), id="second supply"),
        pytest.param(dataclasses.replace(COURTYARD, fed_from="mill"), id="of another site"),
        pytest.param(dataclasses.replace(SUPPLY, fed_from="bakery"), id="no supply left"),
    ],
)
def test_what_is_no_tree_names_the_feed(circuit: Circuit) -> None:
    mill = dataclasses.replace(SUPPLY, id="mill", site_id="another-site")
    assert field_of(lambda: check_circuit(circuit, (SUPPLY, COURTYARD, BAKERY, mill))) == "fed_from"


def test_a_loop_is_spelled_out() -> None:
    looping = dataclasses.replace(COURTYARD, fed_from="bakery")
    with pytest.raises(InvalidInput, match="courtyard < bakery < courtyard"):
        check_circuit(looping, (SUPPLY, COURTYARD, BAKERY))


def test_the_path_to_the_root_ends_with_the_supply() -> None:
    circuits = {circuit.id: circuit for circuit in (SUPPLY, COURTYARD, BAKERY)}
    assert path_to_root(circuits, "bakery") == (BAKERY, COURTYARD, SUPPLY)
    assert path_to_root(circuits, "supply") == (SUPPLY,)
    with pytest.raises(NotFound, match="circuit cellar"):
        path_to_root(circuits, "cellar")


def test_the_lowest_cap_is_that_of_the_worst_hour() -> None:
    evening, night = CapWindow(time(17), time(20), 9_000), CapWindow(time(23), time(5), 30_000)
    assert SUPPLY.lowest_cap_w is None
    assert dataclasses.replace(SUPPLY, cap_windows=(night, evening)).lowest_cap_w == 9_000
    assert dataclasses.replace(SUPPLY, cap_w=20_000, cap_windows=(night,)).lowest_cap_w == 20_000
