"""Tokens and paths among the shapes: where each spelling fits and where not."""

from typing import Any

from csms.ocpp.fields import Fields
from csms.ocpp.v201.authorization import read_token, write_token
from csms.ocpp.v201.spelling import specials
from csms.stations.model import TokenRef

TOKEN, PATH, PATHS, DISPLAY = specials(read_token, write_token)
MONITOR: dict[str, Any] = {"properties": {"component": {}, "variable": {}}}


def test_a_token_fits_by_its_type_and_its_name() -> None:
    node: dict[str, Any] = {"properties": {"idToken": {}, "groupIdToken": {}}}
    found = TOKEN("group_token", TokenRef | None, node)
    assert found is not None
    assert found[0] == "groupIdToken"
    assert found[1].read(Fields({"groupIdToken": {"idToken": "A1", "type": "ISO14443"}}), "groupIdToken") == (
        TokenRef("A1")
    )
    assert TOKEN("token", str, node) is None
    assert TOKEN("driver_token", TokenRef, node) is None


def test_paths_fit_objects_that_have_them() -> None:
    assert PATH("path", str, MONITOR) is not None
    assert PATH("path", str, {"properties": {"component": {}}}) is None
    assert PATHS("paths", tuple[str, ...], {"properties": {"componentVariable": {}}}) is not None
    assert PATHS("paths", tuple[str, ...], MONITOR) is None
    assert DISPLAY("display", str, {"properties": {"display": {}}}) is not None
    assert DISPLAY("display", str, MONITOR) is None
