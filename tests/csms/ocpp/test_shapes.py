"""Dataclasses tied to schemas: what is read, written and refused."""

from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

import pytest

from csms.ocpp.adapter import Unreadable
from csms.ocpp.fields import Fields
from csms.ocpp.shapes import Refused, Shape

NODE: dict[str, Any] = {
    "type": "object",
    "properties": {
        "evseId": {"type": "integer"},
        "colour": {"type": "string", "enum": ["DeepRed", "SkyBlue"]},
        "mood": {"type": "string", "enum": ["Calm"]},
        "price": {"type": "number"},
        "timestamp": {"type": "string"},
        "inner": {"type": "object", "properties": {"depthM": {"type": "number"}}, "required": ["depthM"]},
        "marks": {"type": "array", "items": {"type": "string", "enum": ["One", "Two"]}},
        "tbc": {"type": "boolean"},
    },
    "required": ["evseId", "colour"],
}


class Colour(StrEnum):
    DEEP_RED = "deep_red"
    SKY_BLUE = "sky_blue"
    GREEN = "green"


@dataclass(frozen=True, slots=True)
class Thing:
    evse: int
    colour: Colour
    last: bool
    mood: str = ""
    price: Decimal | None = None
    at: datetime | None = None
    depth: float | None = None
    marks: tuple[str, ...] = ()
    weight: int = 0


WHERE = {"depth": "inner.depthM"}
SHAPE = Shape(Thing, NODE, {}, "OCPP 9", WHERE)
WIRE = {
    "evseId": 1,
    "colour": "SkyBlue",
    "mood": "Calm",
    "price": 0.31,
    "timestamp": "2026-03-02T07:30:00.000Z",
    "inner": {"depthM": 1.5},
    "marks": ["One", "Two"],
    "tbc": True,
}
THING = Thing(
    evse=1,
    colour=Colour.SKY_BLUE,
    last=False,
    mood="calm",
    price=Decimal("0.31"),
    at=datetime(2026, 3, 2, 7, 30, tzinfo=UTC),
    depth=1.5,
    marks=("one", "two"),
)


def test_what_is_written_is_read_again() -> None:
    assert SHAPE.write(THING) == WIRE
    assert SHAPE.read(Fields(WIRE)) == THING


def test_defaults_are_left_out_where_the_schema_allows_it() -> None:
    assert SHAPE.write(Thing(0, Colour.DEEP_RED, True)) == {"evseId": 0, "colour": "DeepRed", "tbc": False}
    assert SHAPE.read(Fields({"evseId": 0, "colour": "deepred"})).last is True


def test_a_word_that_nobody_knows_stays_in_a_text_and_is_noted_in_a_choice() -> None:
    said = Fields({**WIRE, "mood": "Furious", "marks": ["One", "Three"]})
    assert SHAPE.read(said).mood == "Furious"
    assert SHAPE.read(said).marks == ("one", "Three")
    with pytest.raises(Unreadable) as caught:
        SHAPE.read(Fields({**WIRE, "colour": "Beige"}))
    assert caught.value.field == "colour"


def test_what_is_needed_and_missing_is_unreadable_with_its_place() -> None:
    with pytest.raises(Unreadable) as caught:
        SHAPE.read(Fields({"colour": "DeepRed"}))
    assert caught.value.field == "evseId"


@pytest.mark.parametrize(
    ("thing", "problem"),
    [
        (Thing(1, Colour.GREEN, True), "colour: OCPP 9 has no green"),
        (Thing(1, Colour.DEEP_RED, True, weight=3), "weight: OCPP 9 has no such field; leave it out"),
        (Thing(1, Colour.DEEP_RED, True, mood="sad"), "mood: 'sad' is none of calm"),
    ],
)
def test_what_the_version_cannot_carry_is_refused(thing: Thing, problem: str) -> None:
    with pytest.raises(Refused) as caught:
        SHAPE.write(thing, "")
    assert str(caught.value) == problem


@dataclass(frozen=True, slots=True)
class Box:
    things: tuple[Thing, ...]


def test_an_item_that_makes_no_sense_is_left_out_and_noted() -> None:
    node = {"type": "object", "properties": {"things": {"type": "array", "items": NODE}}}
    box = Shape(Box, node, {}, "OCPP 9", {"things.depth": "inner.depthM"})
    said = Fields({"things": [WIRE, {"evseId": 1}]})
    assert box.read(said) == Box((THING,))
    assert said.notes.texts() == ("things[1].colour: is missing or makes no sense",)
    with pytest.raises(Refused, match=r"things\[0\].colour: OCPP 9 has no green"):
        box.write(Box((Thing(1, Colour.GREEN, True),)))
