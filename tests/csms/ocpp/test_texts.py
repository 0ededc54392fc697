"""Texts: cleaned of what databases refuse and stations pad with."""

import pytest

from csms.ocpp.texts import as_text, clean


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (" 04A1 ", "04A1"),
        ("\00004A1\0\0", "04A1"),
        ("\t\n", ""),
        (4711, "4711"),
        (7.0, "7"),
        (7.5, "7.5"),
        (None, ""),
        (True, ""),
        (["04A1"], ""),
        ({"a": 1}, ""),
        (float("inf"), "inf"),
    ],
)
def test_cleans(value: object, text: str) -> None:
    assert clean(value) == text


def test_cuts_at_the_limit() -> None:
    assert clean("x" * 3000) == "x" * 2500
    assert clean("  abcdef", 3) == "abc"
    assert clean(123456, 3) == "123"


def test_free_data_is_kept_as_it_is_or_as_json() -> None:
    assert as_text(" {padded} \0") == " {padded} "
    assert as_text({"rpm": 1200, "on": [True, None]}) == '{"rpm":1200,"on":[true,null]}'
    assert as_text(5) == "5"
    assert as_text(None) is None
