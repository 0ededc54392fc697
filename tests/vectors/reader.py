"""Reads the vectors: wire JSON beside what it means, one file per functional block and version.

A file is a list of cases. `from` says who sends the CALL.

- from "station": `payload` is read and must mean `means`; `answer` (if any) must become
  `answer_payload`. `broken`: the payload breaks the official schema, and is read all the same;
  `unreadable` instead of `means` is the field that Unreadable must name.
- from "us": `command` must become `payload`, or be refused with a problem that begins with
  `unsupported`; each of `results` is an answer's payload and what it means.

A neutral object is written as its fields that differ from the default; the outermost also
as `is`, its class.
"""

import dataclasses
import json
import types
import typing
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from decimal import Decimal
from enum import Enum
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest

from csms.stations import commands, events, model, questions
from csms.stations.words import (
    battery,
    costs,
    der,
    display,
    firmware,
    limits,
    lists,
    monitoring,
    needs,
    network,
    security,
)

HERE = Path(__file__).parent
NOW = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
"""The time of arrival in every vector."""
UNANSWERED = ("NotifyPeriodicEventStream",)
"""Sent as SEND: its schema has no ending, and there is none for an answer."""

WORDS = (battery, costs, der, display, firmware, limits, lists, monitoring, needs, network, security)

CLASSES: Mapping[str, type[Any]] = {
    name: kind
    for module in (model, events, questions, commands, *WORDS)
    for name, kind in vars(module).items()
    if dataclasses.is_dataclass(kind) and isinstance(kind, type)
}


def cases(version: str, block: str, sender: str) -> list[Any]:
    """The cases of a block as parameters of a test, named by action and title."""
    return [
        pytest.param(case, id=f"{case['action']}: {case['title']}")
        for case in load(version, block)
        if case["from"] == sender
    ]


def load(version: str, block: str) -> list[dict[str, Any]]:
    """All cases of one file."""
    found: list[dict[str, Any]] = json.loads((HERE / version / f"{block}.json").read_text())
    return found


def every(version: str) -> Iterator[dict[str, Any]]:
    """All cases of a version, with those that it shares with the one before."""
    for path in sorted((HERE / version).glob("*.json")):
        yield from load(version, path.stem)
    if version == "v21":
        yield from shared()


def shared() -> Iterator[dict[str, Any]]:
    """The cases of OCPP 2.0.1 that mean the same in 2.1: all that are sound, but for those in CHANGED."""
    for case in every("v201"):
        part = f"{case['action']}: {case['title']}"
        if "payload" in case and not case.get("broken") and not {case["action"], part} & set(CHANGED):
            yield case


CHANGED = ("SetNetworkProfile", "MeterValues: an EVSE that cannot be")
"""Actions, or single cases, that 2.1 sees in another way: no version is told; -1 breaks its schema."""


@cache
def official(version: str, action: str, part: str) -> jsonschema_rs.Validator:
    """The official schema of a message; `part` is "request" or "response"."""
    ending = {
        "request": "" if version == "v16" or action in UNANSWERED else "Request",
        "response": "Response",
    }[part]
    text = files("ocpp").joinpath(version, "schemas", f"{action}{ending}.json").read_text("utf-8-sig")
    return jsonschema_rs.validator_for(json.loads(text), validate_formats=False)


def members(version: str, message: str, name: str) -> set[str]:
    """The members of the enumeration of property `name`, anywhere in a message's official schema."""
    text = files("ocpp").joinpath(version, "schemas", f"{message}.json").read_text("utf-8-sig")
    whole = json.loads(text)
    found: set[str] = set()

    def walk(node: object) -> None:
        if isinstance(node, dict):
            part = node.get("properties", {}).get(name)
            if isinstance(part, dict):
                if "$ref" in part:
                    part = whole["definitions"][part["$ref"].rpartition("/")[2]]
                found.update(part.get("enum", ()))
            for inner in node.values():
                walk(inner)
        elif isinstance(node, list):
            for inner in node:
                walk(inner)

    walk(whole)
    return found


def properties(version: str, message: str, name: str) -> set[str]:
    """The properties of the object `name` at the top of a message's official schema, but for makers' own."""
    text = files("ocpp").joinpath(version, "schemas", f"{message}.json").read_text("utf-8-sig")
    whole = json.loads(text)
    part = whole["properties"][name]
    part = whole["definitions"][part["$ref"].rpartition("/")[2]] if "$ref" in part else part
    return set(part["properties"]) - {"customData"}


def plain(value: Any, outermost: bool = True) -> Any:
    """A neutral object as the vectors write it."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        written = {"is": type(value).__name__} if outermost else {}
        for field in dataclasses.fields(value):
            inner = getattr(value, field.name)
            if field.default is dataclasses.MISSING or inner != field.default:
                written[field.name] = plain(inner, outermost=False)
        return written
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, tuple):
        return [plain(inner, outermost=False) for inner in value]
    return value


def build(written: Mapping[str, Any]) -> Any:
    """The neutral object that a vector writes."""
    return _build(CLASSES[written["is"]], written)


def _build(kind: Any, written: Any) -> Any:
    if typing.get_origin(kind) in (types.UnionType, typing.Union):
        kind = next(one for one in typing.get_args(kind) if one is not type(None))
    if written is None:
        return None
    if typing.get_origin(kind) is tuple:
        inner = typing.get_args(kind)[0]
        return tuple(_build(inner, one) for one in written)
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        hints = typing.get_type_hints(kind)
        return kind(**{name: _build(hints[name], one) for name, one in written.items() if name != "is"})
    if kind is datetime:
        return datetime.fromisoformat(written)
    if kind is Decimal:
        return Decimal(written)
    return kind(written) if isinstance(kind, type) and issubclass(kind, Enum) else written
