"""What OCPP 2.x spells in more than one property, for the shapes: tokens and the paths of variables."""

from collections.abc import Callable
from types import UnionType
from typing import Any, Union, get_args, get_origin

from csms.ocpp.adapter import Unsupported
from csms.ocpp.fields import Fields
from csms.ocpp.keys import wire_name
from csms.ocpp.shapes import Codec, Node, Refused, Special
from csms.ocpp.translator import Payload
from csms.ocpp.v201.variables import component_of, path_of, wire_component, wire_path
from csms.stations.model import TokenRef

ReadToken = Callable[[Fields], TokenRef | None]
WriteToken = Callable[[TokenRef], Payload | Unsupported]


def specials(read_token: ReadToken, write_token: WriteToken) -> tuple[Special, ...]:
    """The spellings of a version that reads and writes tokens so."""
    codec = Codec(
        lambda said, name: read_token(said.part(name)), lambda value, field: _or_raise(write_token(value))
    )

    def token(name: str, hint: Any, node: Node) -> tuple[str, Codec] | None:
        wire = wire_name(node.get("properties", {}), name) if _is(hint, TokenRef) else None
        return None if wire is None else (wire, codec)

    return token, _path, _paths, _display


def _is(hint: Any, kind: type[Any]) -> bool:
    if get_origin(hint) in (Union, UnionType):
        return kind in get_args(hint)
    return hint is kind


def _or_raise(written: Payload | Unsupported) -> Payload:
    if isinstance(written, Unsupported):
        field, _, problem = written.problem.partition(": ")
        raise Refused(field, problem)
    return written


def _path(name: str, hint: Any, node: Node) -> tuple[str, Codec] | None:
    """`path`: the object's component and variable."""
    return ("", _PATH) if name == "path" and "variable" in node.get("properties", {}) else None


def _paths(name: str, hint: Any, node: Node) -> tuple[str, Codec] | None:
    """`paths`: components, each with or without a variable."""
    fits = name == "paths" and "componentVariable" in node.get("properties", {})
    return ("componentVariable", _PATHS) if fits else None


def _display(name: str, hint: Any, node: Node) -> tuple[str, Codec] | None:
    """`display`: a component."""
    return ("display", _COMPONENT) if name == "display" and "display" in node.get("properties", {}) else None


def _write_paths(paths: tuple[str, ...], field: str) -> list[Payload]:
    return [
        _or_raise(wire_path(path)) if "/" in path else {"component": _write_component(path, field)}
        for path in paths
    ]


def _write_component(text: str, field: str) -> Payload:
    wire = wire_component(text)
    if wire is None:
        raise Refused(field, f"{text!r:.120}: write component#instance@evse.connector")
    return wire


def _read_paths(said: Fields, name: str) -> tuple[str, ...]:
    return tuple(path for part in said.parts(name) if (path := path_of(part)))


_PATH = Codec(lambda said, name: path_of(said) or None, lambda value, field: _or_raise(wire_path(value)))
_PATHS = Codec(_read_paths, _write_paths)
_COMPONENT = Codec(lambda said, name: component_of(said.part(name)), _write_component)
