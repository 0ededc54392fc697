from collections.abc import Callable

import pytest

from csms.errors import InvalidInput
from csms.metering.fields import Fields

KNOWN = ("host", "port", "name", "factor", "on", "lines", "file")


def test_values_come_out_checked_and_missing_ones_by_their_default() -> None:
    given = {"host": "10.0.0.7", "port": 1883, "factor": 0.001, "on": True, "file": "broker.pw"}
    fields = Fields(given | {"lines": {"L1": "a", "L3": "b"}}, "meter.input", KNOWN)
    assert (fields.host(), fields.port(None), fields.factor("factor")) == ("10.0.0.7", 1883, 0.001)
    assert (fields.flag("on", False), fields.secret("file")) == (True, "broker.pw")
    assert fields.lines() == {"L1": "a", "L3": "b"}
    empty = Fields({}, "meter.input", KNOWN)
    assert (empty.port(502), empty.factor("factor"), empty.flag("on", True)) == (502, 1.0, True)
    assert (empty.text("name", "x"), empty.secret("file")) == ("x", None)
    assert Fields({"host": "[fe80::1]"}, "", KNOWN).host() == "fe80::1"


@pytest.mark.parametrize(
    ("given", "read", "field"),
    [
        ([], lambda f: f, "input"),
        ({"hots": 1}, lambda f: f, "input.hots"),
        ({}, lambda f: f.host(), "input.host"),
        ({"host": 7}, lambda f: f.host(), "input.host"),
        ({"host": "a b"}, lambda f: f.host(), "input.host"),
        ({"host": "http://a/"}, lambda f: f.host(), "input.host"),
        ({"port": 0}, lambda f: f.port(1), "input.port"),
        ({"port": "502"}, lambda f: f.port(1), "input.port"),
        ({"port": True}, lambda f: f.port(1), "input.port"),
        ({"name": ""}, lambda f: f.text("name"), "input.name"),
        ({"name": "a\nb"}, lambda f: f.text("name"), "input.name"),
        ({"name": "x" * 300}, lambda f: f.text("name"), "input.name"),
        ({"factor": 0}, lambda f: f.factor("factor"), "input.factor"),
        ({"factor": float("nan")}, lambda f: f.factor("factor"), "input.factor"),
        ({"factor": "1"}, lambda f: f.factor("factor"), "input.factor"),
        ({"on": 1}, lambda f: f.flag("on", False), "input.on"),
        ({"lines": {}}, lambda f: f.lines(), "input.lines"),
        ({"lines": {"L4": 1}}, lambda f: f.lines(), "input.lines.L4"),
        ({"file": "../key"}, lambda f: f.secret("file"), "input.file"),
        ({"file": "/etc/passwd"}, lambda f: f.secret("file"), "input.file"),
        ({"file": "a..b"}, lambda f: f.secret("file"), "input.file"),
        ({"name": "x"}, lambda f: f.choice("name", ("a", "b")), "input.name"),
    ],
)
def test_what_is_wrong_is_named_with_its_path(
    given: object, read: Callable[[Fields], object], field: str
) -> None:
    with pytest.raises(InvalidInput) as refused:
        read(Fields(given, "input", KNOWN))
    assert refused.value.field == field
    assert refused.value.problem
