"""What the tests of the vocabulary ask of a file of words."""

import dataclasses
import typing
from enum import StrEnum
from types import ModuleType
from typing import Any

from csms.ocpp.adapter import VERSIONS, adapter_for
from csms.ocpp.keys import our_word
from csms.ocpp.schemas import Part, schema
from csms.stations.commands import COMMANDS
from csms.stations.events import EVENTS
from csms.stations.questions import QUESTIONS, Answer

__all__ = ["forgotten", "unspeakable"]


def classes(module: ModuleType, kind: type) -> list[type[Any]]:
    """The classes that the module itself defines."""
    return [
        each
        for each in vars(module).values()
        if isinstance(each, type)
        and each.__module__ == module.__name__
        and (issubclass(each, kind) if kind is StrEnum else dataclasses.is_dataclass(each))
    ]


def parts(kind: Any) -> set[Any]:
    """The classes in the fields of a dataclass, at any depth."""
    found: set[Any] = set()
    for hint in typing.get_type_hints(kind).values():
        inside = typing.get_args(hint)
        deeper = [one for each in inside for one in typing.get_args(each)]
        for one in {hint, *inside, *deeper}:
            if isinstance(one, type) and one not in found:
                found.add(one)
                if dataclasses.is_dataclass(one):
                    found |= parts(one)
    return found


OUTERMOST = {*COMMANDS, *EVENTS, *QUESTIONS, *typing.get_args(Answer)}


def forgotten(module: ModuleType) -> list[str]:
    """Dataclasses that are in no union, no part of what is, and not data of a result (by its docstring)."""
    used = OUTERMOST | {part for kind in OUTERMOST - {type(None)} for part in parts(kind)}
    told = " ".join(command.__doc__ or "" for command in COMMANDS)
    unused = [each.__name__ for each in classes(module, object) if each not in used]
    return [name for name in unused if name not in told]


def unspeakable(module: ModuleType) -> list[str]:
    """Members of StrEnums that are a word of no message of any version."""
    members = [(kind.__name__, word) for kind in classes(module, StrEnum) for word in kind]
    return [f"{kind}.{word}" for kind, word in members if word not in WORDS]


def _words() -> set[str]:
    found: set[str] = set()

    def walk(node: Any) -> None:
        if isinstance(node, dict):
            if isinstance(node.get("enum"), list):
                found.update(our_word(str(word)) for word in node["enum"])
            for inner in node.values():
                walk(inner)
        elif isinstance(node, list):
            for inner in node:
                walk(inner)

    for version in VERSIONS:
        adapter = adapter_for(version)
        for action in {*adapter.inbound_actions, *adapter.asked_actions}:
            walk(schema(version, action, Part.REQUEST))
            if action != "NotifyPeriodicEventStream":
                walk(schema(version, action, Part.RESPONSE))
    return found


WORDS = _words()
