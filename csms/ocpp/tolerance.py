"""What stations usually get wrong, put right before a payload is judged again.

Runs only on payloads that break their schema; those that keep to it are taken as they are.
Put right: NUL characters and blanks around texts; empty values of optional fields (absent);
whole numbers written as `10.0`; numbers as texts and texts as numbers; enum members in
another case. Kept and told: unknown enum members, over-long texts. Left out and told:
properties that the schema does not have. Free-form data of makers is not touched.

Why: the same faults are met again and again in stations of the field (common practice), and
a refused boot or meter value helps nobody.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from math import isfinite
from typing import Any

from csms.ocpp.schemas import Part, schema
from csms.ocpp.version import Version

TOLERATED = frozenset({"enum", "maxLength", "additionalProperties", "multipleOf", "maxItems"})
"""Rules whose breach does not keep an inbound message from being understood."""

MOST_NOTES = 50
"""More deviations than this in one payload are not listed."""

LARGEST_WHOLE = 2**53
"""Beyond this a float no longer tells whole numbers apart."""

_UNTOUCHED = frozenset({"data", "customData"})
"""Makers' own content (DataTransfer.data; customData of 2.x): what it means is theirs to say."""


class _Absent:
    """Stands for a value that is to be left out."""


_ABSENT = _Absent()


@dataclass(frozen=True, slots=True)
class _Shape:
    """One level of a schema, its references resolved."""

    type: str
    properties: Mapping[str, "_Shape"] = field(default_factory=dict)
    required: frozenset[str] = frozenset()
    items: "_Shape | None" = None
    enum: Mapping[str, str] | None = None
    """Members by their lower-case form."""
    max_length: int | None = None
    free: bool = False
    """An object that may hold anything."""


@dataclass(slots=True)
class _Notes:
    told: list[str] = field(default_factory=list)

    def add(self, path: str, text: str) -> None:
        if len(self.told) < MOST_NOTES:
            self.told.append(f"{path[:120]}: {text}")


def mend(
    version: Version, action: str, part: Part, payload: Mapping[str, Any]
) -> tuple[dict[str, Any], tuple[str, ...]]:
    """A copy of `payload` with the usual faults put right, and what was odd about it.

    Raises KeyError when the version has no such message.
    """
    notes = _Notes()
    mended = _object(payload, _shape(version, action, part), "", notes)
    return mended, tuple(notes.told)


def _object(value: Mapping[str, Any], shape: _Shape, path: str, notes: _Notes) -> dict[str, Any]:
    if shape.free:
        return dict(value)
    mended: dict[str, Any] = {}
    for name, inner in value.items():
        where = f"{path}.{name}" if path else name
        known = shape.properties.get(name)
        if known is None:
            notes.add(where, "is not in the standard; left out")
            continue
        result = inner if name in _UNTOUCHED else _value(inner, known, where, name in shape.required, notes)
        if result is not _ABSENT:
            mended[name] = result
    return mended


def _value(value: Any, shape: _Shape, path: str, required: bool, notes: _Notes) -> Any:
    if isinstance(value, str):
        value = _text(value, path, notes)
    if not required and (value is None or value in ("", [])):
        notes.add(path, "is empty; taken as absent")
        return _ABSENT
    if shape.type == "object" and isinstance(value, dict):
        return _object(value, shape, path, notes)
    if shape.type == "array" and isinstance(value, list) and shape.items is not None:
        items = shape.items
        return [_value(one, items, f"{path}[{n}]", True, notes) for n, one in enumerate(value)]
    if shape.type == "string":
        return _string(value, shape, path, notes)
    if shape.type in ("integer", "number"):
        return _number(value, shape.type == "integer", path, notes)
    if shape.type == "boolean":
        return _boolean(value, path, notes)
    return value


def _text(value: str, path: str, notes: _Notes) -> str:
    cleaned = value.replace("\x00", "").strip()
    if cleaned != value:
        notes.add(path, "had blanks or NUL characters around it")
    return cleaned


def _string(value: Any, shape: _Shape, path: str, notes: _Notes) -> Any:
    if isinstance(value, int | float) and not isinstance(value, bool):
        notes.add(path, "is a number where a text is due")
        value = str(value)
    if not isinstance(value, str):
        return value
    if shape.enum is not None and value not in shape.enum.values():
        member = shape.enum.get(value.lower())
        if member is None:
            notes.add(path, f"{value[:40]!r} is not one of the values of the standard")
            return value
        notes.add(path, f"{value!r} is written {member!r}")
        return member
    if shape.max_length is not None and len(value) > shape.max_length:
        notes.add(path, f"has {len(value)} characters, more than {shape.max_length}")
    return value


def _number(value: Any, whole: bool, path: str, notes: _Notes) -> Any:
    if isinstance(value, str):
        try:
            read = float(value.replace(",", "."))
        except ValueError:
            return value
        if not isfinite(read):
            return value
        notes.add(path, "is a text where a number is due")
        value = int(value) if value.lstrip("+-").isdecimal() else read
    if whole and isinstance(value, float) and value.is_integer() and abs(value) <= LARGEST_WHOLE:
        notes.add(path, "is a whole number written with decimals")
        return int(value)
    return value


def _boolean(value: Any, path: str, notes: _Notes) -> Any:
    if isinstance(value, str) and value.lower() in ("true", "false"):
        notes.add(path, "is a text where true or false is due")
        return value.lower() == "true"
    return value


@cache
def _shape(version: Version, action: str, part: Part) -> _Shape:
    whole = schema(version, action, part)
    return _build(whole, whole.get("definitions", {}))


def _build(node: Mapping[str, Any], definitions: Mapping[str, Any]) -> _Shape:
    while "$ref" in node:
        node = definitions[node["$ref"].removeprefix("#/definitions/")]
    properties = node.get("properties")
    return _Shape(
        type=str(node.get("type", "")),
        properties={name: _build(inner, definitions) for name, inner in (properties or {}).items()},
        required=frozenset(node.get("required", ())),
        items=_build(node["items"], definitions) if "items" in node else None,
        enum={str(member).lower(): str(member) for member in node["enum"]} if "enum" in node else None,
        max_length=node.get("maxLength"),
        free=not properties and node.get("additionalProperties") is not False,
    )
