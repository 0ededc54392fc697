"""Texts as stations send them, cleaned: no NULs, no blanks around, numbers where texts are asked."""

from typing import Final

import orjson

LONGEST: Final = 2500
"""The longest text of the standard that we keep whole (OCPP 2.0.1 attributeValue, signed data)."""


def clean(value: object, limit: int = LONGEST) -> str:
    """`value` as text: NUL and outer blanks removed, cut at `limit`; "" for what is no text.

    Databases refuse U+0000 in text. A whole number given as 7.0 reads "7".
    """
    if type(value) is str:
        if "\0" in value:
            value = value.replace("\0", "")
        return value.strip()[:limit]
    if value is None or isinstance(value, bool | dict | list):
        return ""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))[:limit]
    return str(value)[:limit]


def as_text(value: object) -> str | None:
    """Free data as text: a text as it is (without NULs), anything else as its JSON; None for null."""
    if value is None:
        return None
    if isinstance(value, str):
        return value.replace("\0", "")
    return orjson.dumps(value).decode()
