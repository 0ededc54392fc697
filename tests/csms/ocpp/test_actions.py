"""Counts: OCPP 1.6 §3.3 with the security white paper §5 (39 actions), 2.0.1 (64), 2.1 (91)."""

from importlib.resources import files

import pytest

from csms.ocpp.actions import ABOUT_TRANSACTIONS, FROM_CENTRAL, FROM_STATION, KNOWN, TELLS_TIME
from csms.ocpp.version import Version

FOLDERS = {Version.OCPP16: "v16", Version.OCPP201: "v201", Version.OCPP21: "v21"}


@pytest.mark.parametrize("version", Version)
def test_the_actions_are_those_that_have_schemas(version: Version) -> None:
    names = [place.name for place in files("ocpp").joinpath(FOLDERS[version], "schemas").iterdir()]
    actions = {
        name.removesuffix(".json").removesuffix("Response").removesuffix("Request")
        for name in names
        if name.endswith(".json")
    }
    assert KNOWN[version] == actions


@pytest.mark.parametrize(
    ("version", "station_only", "central_only", "all_of_them"),
    [(Version.OCPP16, 13, 25, 39), (Version.OCPP201, 24, 39, 64), (Version.OCPP21, 36, 54, 91)],
)
def test_directions_add_up(version: Version, station_only: int, central_only: int, all_of_them: int) -> None:
    station, central = FROM_STATION[version], FROM_CENTRAL[version]
    assert station & central == {"DataTransfer"}
    assert (len(station - central), len(central - station)) == (station_only, central_only)
    assert len(KNOWN[version]) == all_of_them


def test_marked_actions_come_from_stations() -> None:
    everywhere = frozenset().union(*FROM_STATION.values())
    assert everywhere >= ABOUT_TRANSACTIONS | TELLS_TIME
