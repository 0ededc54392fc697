"""Reading objects that may be false in any part."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from csms.ocpp.fields import MOST_NOTES, WIDEST, Fields, Notes, Words

WORDS = Words({"Charging": 1, "SuspendedEV": 2})

ANY_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=3),
    max_leaves=8,
)


def noted(value: object) -> tuple[Fields, Notes]:
    notes = Notes()
    return Fields({"x": value}, notes, "here."), notes


@pytest.mark.parametrize(
    ("value", "number", "notes"),
    [
        (7, 7, ()),
        (7.0, 7, ()),
        (-1, -1, ()),
        (None, None, ()),
        ("", None, ()),
        (" 7 ", 7, ("here.x: is a text where a number is asked",)),
        ("seven", None, ("here.x: is a text where a number is asked", "here.x: is no whole number")),
        (7.5, None, ("here.x: is no whole number",)),
        (True, None, ("here.x: is no whole number",)),
        (WIDEST + 1, None, ("here.x: is no whole number",)),
        (1e300, None, ("here.x: is no whole number",)),
        ([7], None, ("here.x: is no whole number",)),
    ],
)
def test_whole_numbers(value: object, number: int | None, notes: tuple[str, ...]) -> None:
    said, written = noted(value)
    assert said.whole("x") == number
    assert written.texts() == notes


@pytest.mark.parametrize(
    ("value", "number"),
    [
        (7, 7.0),
        ("7.5", 7.5),
        (None, None),
        ("x", None),
        (math.nan, None),
        ("inf", None),
        (True, None),
        ({}, None),
    ],
)
def test_numbers(value: object, number: float | None) -> None:
    said, notes = noted(value)
    assert said.number("x") == number
    assert (notes.texts() == ()) is (number is not None or value is None)


@pytest.mark.parametrize(
    ("value", "register_wh"),
    [(1204500, 1204500), (1204.5, 1205), ("1204.4", 1204), (-0.5, -1), (None, None), ("kWh", None)],
)
def test_registers_are_rounded_half_up(value: object, register_wh: int | None) -> None:
    said, _ = noted(value)
    assert said.wh("x") == register_wh


@pytest.mark.parametrize(
    ("value", "flag"), [(True, True), ("True", True), (False, False), (1, False), (None, False)]
)
def test_flags(value: object, flag: bool) -> None:
    said, _ = noted(value)
    assert said.flag("x") is flag


@pytest.mark.parametrize(
    ("value", "meaning", "notes"),
    [
        ("Charging", 1, ()),
        ("suspendedev", 2, ()),
        (" SuspendedEV ", 2, ()),
        (None, None, ()),
        ("", None, ()),
        ("Dozing", None, ("here.x: 'Dozing' is not of the standard",)),
        (7, None, ("here.x: 7 is not of the standard",)),
    ],
)
def test_words(value: object, meaning: int | None, notes: tuple[str, ...]) -> None:
    said, written = noted(value)
    assert said.word("x", WORDS) == meaning
    assert written.texts() == notes


def test_parts_know_their_place() -> None:
    said, notes = noted({"deep": {"id": "one"}, "list": [{"id": []}, 5]})
    part = said.part("x")
    assert part.part("deep").whole("id") is None
    assert [one.whole("id") for one in part.parts("list")] == [None]
    assert notes.texts() == (
        "here.x.deep.id: is a text where a number is asked",
        "here.x.deep.id: is no whole number",
        "here.x.list[0].id: is no whole number",
        "here.x.list[1]: is no object",
    )


def test_what_is_no_object_or_list_reads_as_empty() -> None:
    said, notes = noted("text")
    assert not said.part("x")
    assert said.items("x") == []
    assert Fields([1]).text("x") == ""
    assert notes.texts() == ("here.x: is no object", "here.x: is no list")
    single, _ = noted({"id": 3})
    assert [one.whole("id") for one in single.parts("x")] == [3]


def test_a_false_time_is_noted() -> None:
    said, notes = noted("soon")
    assert said.time("x") is None
    assert notes.texts()[0].startswith("here.x: 'soon' is no ISO 8601 time")


def test_notes_are_counted_when_too_many() -> None:
    notes = Notes(("from the engine",))
    for number in range(30):
        notes.add(f"x[{number}]", "is false")
    texts = notes.texts()
    assert len(texts) == MOST_NOTES + 1
    assert texts[0] == "from the engine"
    assert texts[-1] == "and 11 more"


@given(ANY_JSON)
def test_no_json_makes_it_raise(value: object) -> None:
    said, _ = noted(value)
    said.text("x"), said.whole("x"), said.number("x"), said.wh("x"), said.time("x"), said.flag("x")
    said.word("x", WORDS), said.items("x")
    for part in (said.part("x"), *said.parts("x")):
        part.text("id")
