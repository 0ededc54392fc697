"""When a station's installation is sound, and which field is named when it is not."""

import dataclasses
import itertools
import math
from datetime import UTC, datetime
from typing import Any

import pytest

from csms.errors import InvalidInput
from csms.stations.model import Registration
from csms.stations.record import (
    Station,
    check_evse_count,
    check_identity,
    check_station,
)

STATION = Station(
    id="BAY-01",
    registration=Registration.ACCEPTED,
    created_at=datetime(2026, 11, 2, tzinfo=UTC),
    name="Bay 1",
    site_id="weavers-yard",
    circuit_id="courtyard",
    max_current_a=16.0,
    fallback_a=6.0,
)


@pytest.mark.parametrize("wiring", list(itertools.permutations(("L1", "L2", "L3"))))
def test_every_rotation_is_sound(wiring: tuple[str, ...]) -> None:
    assert check_station(dataclasses.replace(STATION, wiring=wiring)).wiring == wiring


def test_a_station_with_one_line_names_one() -> None:
    assert check_station(dataclasses.replace(STATION, wiring=("L2",))).wiring == ("L2",)


@pytest.mark.parametrize(
    "changes",
    [
        {"fallback_a": 0},
        {"fallback_a": 6},
        {"fallback_a": 16},
        {"step_a": 0.1},
        {"step_a": 1},
        {"max_current_a": 6, "fallback_a": 6},
        {"name": "  Bay 1 "},
        {"name": ""},
        {"site_id": None, "circuit_id": None},
    ],
)
def test_what_is_sound(changes: dict[str, Any]) -> None:
    station = dataclasses.replace(STATION, **changes)
    kept = check_station(station)
    assert dataclasses.replace(kept, name=station.name) == station
    assert kept.name == station.name.strip()


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"wiring": ()}, "wiring"),
        ({"wiring": ("L1", "L1", "L2")}, "wiring[1]"),
        ({"wiring": ("L1", "L2", "N")}, "wiring[2]"),
        ({"wiring": ("l1", "L2", "L3")}, "wiring[0]"),
        ({"wiring": ("L1", "L2", "L3", "L1")}, "wiring"),
        ({"max_current_a": 0}, "max_current_a"),
        ({"max_current_a": 5.9}, "max_current_a"),
        ({"max_current_a": -16}, "max_current_a"),
        ({"max_current_a": math.nan}, "max_current_a"),
        ({"max_current_a": 1001}, "max_current_a"),
        ({"step_a": 0.5}, "step_a"),
        ({"step_a": 0}, "step_a"),
        ({"fallback_a": -1}, "fallback_a"),
        ({"fallback_a": 5.9}, "fallback_a"),
        ({"fallback_a": 16.1}, "fallback_a"),
        ({"fallback_a": math.inf}, "fallback_a"),
        ({"site_id": None}, "site_id"),
        ({"name": "y" * 121}, "name"),
        ({"name": "Bay\n1"}, "name"),
        ({"id": "BAY:01"}, "id"),
    ],
)
def test_what_is_unsound_names_the_field(changes: dict[str, Any], field: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        check_station(dataclasses.replace(STATION, **changes))
    assert caught.value.field == field


@pytest.mark.parametrize("identity", ["B", "BAY-01", "RDAM 123", "RDAM|123", "Hof-Ö1", "x" * 48])
def test_identities_that_stations_have(identity: str) -> None:
    # "RDAM 123" and "RDAM|123" are the examples of OCPP-J 1.6, 3.1.1; 48 characters and no colon
    # are identifierString of OCPP 2.0.1.
    assert check_identity("id", identity) == identity


@pytest.mark.parametrize("identity", ["", " BAY", "BAY ", "BAY:1", "a/b", "a?b", "a#b", "nul\0", "x" * 49])
def test_identities_that_cannot_be(identity: str) -> None:
    with pytest.raises(InvalidInput, match="id"):
        check_identity("id", identity)


def test_how_many_evses_a_station_may_have() -> None:
    assert [check_evse_count("evses", count) for count in (1, 2, 64)] == [1, 2, 64]
    for count in (0, -1, 65):
        with pytest.raises(InvalidInput, match="evses"):
            check_evse_count("evses", count)


def test_a_station_is_called_by_its_name_or_its_identity() -> None:
    assert STATION.label == "Bay 1"
    assert dataclasses.replace(STATION, name="").label == "BAY-01"
