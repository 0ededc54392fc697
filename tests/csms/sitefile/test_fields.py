"""Typed values, each with its fault and its place."""

from collections.abc import Callable
from datetime import time
from enum import StrEnum

import pytest
import yaml

from csms.errors import InvalidInput
from csms.sitefile.document import compose
from csms.sitefile.fields import Fields, Ledger
from csms.sitefile.places import Place

KEYS = ("a", "b", "items", "many")


class Kind(StrEnum):
    GOOD = "good"


def read(text: str) -> tuple[Fields, Ledger]:
    root = compose(text)
    assert isinstance(root, yaml.Node)
    ledger = Ledger()
    return Fields(ledger, root, "x", KEYS), ledger


def refuse(field: str, _value: str) -> str:
    raise InvalidInput(field, "is not wanted")


GETTERS: list[tuple[str, Callable[[Fields], object], object]] = [
    ("a: 63", lambda f: f.number("a"), 63.0),
    ("a: 1.5e1", lambda f: f.number("a"), 15.0),
    ("a: 20000", lambda f: f.whole("a", highest=30000), 20000),
    ("a: 12", lambda f: f.text("a"), "12"),
    ("a: NO", lambda f: f.text("a"), "NO"),
    ("a: true", lambda f: f.flag("a", False), True),
    ("b: 1", lambda f: f.flag("a", True), True),
    ("a: 17:00", lambda f: f.clock_time("a"), time(17)),
    ('a: "07:30"', lambda f: f.clock_time("a"), time(7, 30)),
    ("a: good", lambda f: f.choice("a", Kind), Kind.GOOD),
    ("a: 16", lambda f: f.line_amps("a"), (16.0, 16.0, 16.0)),
    ("a: {L1: 16, L3: 8.5}", lambda f: f.line_amps("a"), (16.0, 0.0, 8.5)),
    ("a: [L1, L2]", lambda f: f.texts("a"), ("L1", "L2")),
    ("b: 1", lambda f: f.number("a"), None),
    ("b: 1", lambda f: f.mapping("a", ("c",)), None),
    (
        "a: {n: 1, f: 1.5, t: NO, q: '1', b: true, z: null, l: [1, {x: 010}]}",
        lambda f: f.plain("a"),
        {"n": 1, "f": 1.5, "t": "NO", "q": "1", "b": True, "z": None, "l": [1, {"x": "010"}]},
    ),
]


@pytest.mark.parametrize(("text", "get", "value"), GETTERS)
def test_values_are_taken_as_they_are_written(
    text: str, get: Callable[[Fields], object], value: object
) -> None:
    fields, ledger = read(text)
    assert get(fields) == value
    assert ledger.faults == []


WRONG: list[tuple[str, Callable[[Fields], object], str]] = [
    ("a: .nan", lambda f: f.number("a"), "must be a finite number, not .nan"),
    ("a: -.INF", lambda f: f.number("a"), "must be a finite number, not -.INF"),
    ("a: 1e999", lambda f: f.number("a"), "must be a finite number, not 1e999"),
    ("a: 010", lambda f: f.number("a"), "must be a number, not '010'"),
    ("a: 0x10", lambda f: f.number("a"), "must be a number, not '0x10'"),
    ("a: 1_000", lambda f: f.number("a"), "must be a number, not '1_000'"),
    ("a: 16 A", lambda f: f.number("a"), "must be a number, not '16 A'"),
    ("a: '16'", lambda f: f.number("a"), "must be a number, not '16'"),
    ("a: -3", lambda f: f.number("a"), "must not be negative, but is -3"),
    ("a: 5", lambda f: f.number("a", lowest=6), "must be at least 6, not 5"),
    ("a: 99", lambda f: f.number("a", highest=64), "must be at most 64, not 99"),
    ("a: [1]", lambda f: f.number("a"), "must be a number"),
    ("a: null", lambda f: f.number("a"), "must be a number"),
    ("a: 1.5", lambda f: f.whole("a", highest=9), "must be a whole number, not 1.5"),
    ("a: {}", lambda f: f.text("a"), "must be a text"),
    ("a: yes", lambda f: f.flag("a", False), "must be true or false, not yes"),
    ("a: 'true'", lambda f: f.flag("a", False), "must be true or false, not true"),
    ("a: 25:00", lambda f: f.clock_time("a"), "'25:00' is no time of day such as 07:30"),
    ("a: bad", lambda f: f.choice("a", Kind), "'bad' is none of good"),
    ("a: x", lambda f: f.checked("a", refuse), "is not wanted"),
    ("a: 200000", lambda f: f.line_amps("a"), "must be at most 100000 A, not 200000"),
    ("a: L1", lambda f: f.texts("a"), "must be a list, e.g. [L1, L2, L3]"),
    ("a: 1", lambda f: list(f.mappings("a", ("c",))), "must be a list of mappings with c"),
    ("a: 1", lambda f: f.plain("a"), "must be a mapping"),
]


@pytest.mark.parametrize(("text", "get", "problem"), WRONG)
def test_what_is_wrong_is_told_at_its_place(text: str, get: Callable[[Fields], object], problem: str) -> None:
    fields, ledger = read(text)
    assert not get(fields)
    assert [(f.place, f.path, f.problem) for f in ledger.faults] == [(Place(1, 4), "x.a", problem)]


def test_unknown_keys_and_keys_that_are_there_twice() -> None:
    _, ledger = read("a: 1\nc: 2\na: 3\n? [k]\n: 4\n")
    assert [(f.place, f.path) for f in ledger.faults] == [
        (Place(2, 1), "x.c"),
        (Place(3, 1), "x.a"),
        (Place(4, 3), "x.?"),
    ]
    assert "known are a, b, items, many" in ledger.faults[0].problem


def test_what_is_missing_is_told_at_the_mapping() -> None:
    fields, ledger = read("  b: null")
    fields.require("a", "b")
    assert [str(f) for f in ledger.faults] == [
        "x: a is missing; give a value",
        "x: b is missing; give a value",
    ]


def test_a_fault_inside_a_line_and_inside_a_list() -> None:
    fields, ledger = read("a: {L1: x, L4: 1}\nitems: [{c: 1}, 2]\nb: [L1, [L2]]")
    assert fields.line_amps("a") is None
    assert [each.path for each in fields.mappings("items", ("c",))] == ["x.items[0]", "x.items[1]"]
    assert fields.texts("b") is None
    assert [(str(f.place), f.path) for f in ledger.faults] == [
        ("1:12", "x.a.L4"),
        ("1:9", "x.a.L1"),
        ("2:17", "x.items[1]"),
        ("3:9", "x.b[1]"),
    ]


def test_plain_data_that_goes_round_or_repeats_itself_is_refused() -> None:
    fields, ledger = read("a: &a {b: *a}")
    fields.plain("a")
    assert [f.problem for f in ledger.faults] == ["is nested too deeply or too large"]
    fields, ledger = read("a: {b: 1, b: 2}")
    fields.plain("a")
    assert [str(f) for f in ledger.faults] == ["x.a.b: is there twice; remove one"]
