"""JSON read strictly: exact numbers, and a path for whatever is wrong."""

from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import pytest

from csms.errors import InvalidInput
from csms.tariffs.conditions import DayOfWeek
from csms.tariffs.document import (
    Fields,
    choice,
    dump_json,
    instant,
    items,
    load_json,
    not_negative,
    number,
    text,
    whole,
)


def test_numbers_keep_every_digit() -> None:
    value: Any = load_json('{"price": 0.1000000000000000055, "n": 3}', "tariff")
    assert value == {"price": Decimal("0.1000000000000000055"), "n": 3}
    assert dump_json(value) == '{"price":0.1000000000000000055,"n":3}'


def test_dump_is_the_inverse_of_load() -> None:
    written = '{"a":[1,2.50,null,true,"ü\\""],"b":{"c":-0.001}}'
    assert load_json(dump_json(load_json(written, "x")), "x") == load_json(written, "x")
    assert '"a":[1,2.50,null,true,' in dump_json(load_json(written, "x"))


@pytest.mark.parametrize(
    ("written", "problem"),
    [
        ("", "not JSON"),
        ("{", "not JSON"),
        ('{"price": NaN}', "NaN is not a JSON number"),
        ('{"price": -Infinity}', "-Infinity"),
        ('{"vat": 1, "vat": 2}', "'vat' occurs twice"),
        ("[" * 100_000, "nested too deeply"),
    ],
    ids=["nothing", "half", "nan", "infinity", "twice", "deep"],
)
def test_what_is_not_json(written: str, problem: str) -> None:
    with pytest.raises(InvalidInput, match=f"^tariff: .*{problem}"):
        load_json(written, "tariff")


def test_fields_name_their_path() -> None:
    fields = Fields.of({"a": None, "b": 1}, "elements[0]", ("a", "b"))
    assert fields.maybe("a", number) is None
    assert fields.take("b", number) == 1
    with pytest.raises(InvalidInput, match=r"^elements\[0\]\.a: missing$"):
        fields.take("a", number)
    with pytest.raises(InvalidInput, match=r"^elements\[0\]\.c: not a field here; known are a, b$"):
        Fields.of({"c": 1}, "elements[0]", ("a", "b"))
    with pytest.raises(InvalidInput, match=r"^document: must be an object, not a list$"):
        Fields.of([], "", ())


@pytest.mark.parametrize(
    ("read", "value", "problem"),
    [
        (number, "0.25", "must be a number, not the text '0.25'"),
        (number, True, "must be a number, not true or false"),
        (number, None, "must be a number, not null"),
        (number, 0.25, "must be a number, not a float"),
        (number, Decimal("1e999999"), "digits"),
        (number, Decimal("1e-99"), "digits"),
        (number, Decimal("NaN"), "must be a number"),
        (not_negative, -1, "must not be negative, is -1"),
        (whole, Decimal("1.5"), "must be a whole number, is 1.5"),
        (text(3), "EURO", "must have 1 to 3 characters, has 4"),
        (text(3), 3, "must be text, not a number"),
        (choice(DayOfWeek), "Monday", "must be one of MONDAY, TUESDAY"),
        (items(number), 3, "must be a list, not a number"),
        (items(number, at_least=1), [], "must have at least 1"),
        (instant, "2026-01-31", "must be a time in UTC"),
        (instant, "2026-01-31T12:00:00+01:00", "must be a time in UTC"),
        (instant, "2026-02-30T12:00:00Z", "is no time"),
    ],
)
def test_values_that_are_refused(read: Any, value: object, problem: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        read(value, "here")
    assert caught.value.field == "here"
    assert problem in caught.value.problem


def test_an_item_is_named_by_its_place() -> None:
    with pytest.raises(InvalidInput, match=r"^list\[1\]: must be a number"):
        items(number)([1, "2"], "list")


def test_values_that_are_read() -> None:
    assert whole(Decimal("300.0"), "x") == 300
    assert number(-3, "x") == Decimal(-3)
    assert number(Decimal("0E-30"), "x") == 0
    noon = datetime(2026, 1, 31, 12, tzinfo=UTC)
    for written in ("2026-01-31T12:00:00Z", "2026-01-31T12:00:00", "2026-01-31T12:00:00.000000000Z"):
        assert instant(written, "x") == noon
