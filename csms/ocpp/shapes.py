"""A neutral dataclass and a place in an official schema, tied together once, then read and written.

The fields of the dataclass say what there is, the schema says how it is spelled in this version
(`csms.ocpp.keys`) and which words it allows. `where` names what is spelled otherwise: our field to
a property or, with dots, to one deeper down (`firmware.location`). A field that the version does
not have may hold its default only. Reading is tolerant as `Fields` is; what the dataclass needs
and the message lacks is Unreadable.
"""

from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields, is_dataclass
from datetime import datetime
from decimal import Decimal
from enum import Enum
from types import UnionType
from typing import Any, NamedTuple, Union, get_args, get_origin, get_type_hints

from csms.ocpp.adapter import Unreadable, Unsupported
from csms.ocpp.fields import Fields
from csms.ocpp.keys import VERBATIM, our_word, wire_name
from csms.ocpp.times import write_time

Node = Mapping[str, Any]
"""A part of a JSON schema."""

DECIMALS = 6
"""The most decimals that a station needs to understand (OCPP 2.1 Part 2, 2.1.4)."""


class Refused(Exception):
    """A value that the version cannot carry; becomes Unsupported."""

    def __init__(self, field: str, problem: str) -> None:
        super().__init__(f"{field}: {problem}")


class Codec(NamedTuple):
    """How one value is read from a part of a message and written.

    `read(said, name)`: None when it is absent or makes no sense. `write(value, field)`: raises Refused.
    """

    read: Callable[[Fields, str], Any]
    write: Callable[[Any, str], Any]


Special = Callable[[str, Any, Node], "tuple[str, Codec] | None"]
"""(our field, its type, the object's schema) -> property and codec, where the version has its own spelling.

An empty property means the object itself.
"""


class Part(NamedTuple):
    """One field of a shape. `way`: objects on the way to the property `wire`; "" is the object itself."""

    field: str
    way: tuple[str, ...]
    wire: str
    codec: Codec
    default: Any
    needed: bool


class Shape:
    """A dataclass at a place of a schema. Raises KeyError when a required property has no field."""

    def __init__(
        self,
        kind: type[Any],
        node: Node,
        definitions: Node,
        label: str,
        where: Mapping[str, str] | None = None,
        specials: tuple[Special, ...] = (),
    ) -> None:
        self.kind = kind
        self._label = label
        self._parts: list[Part] = []
        self._missing: list[tuple[str, Any]] = []
        hints = get_type_hints(kind)
        for field in fields(kind):
            default = field.default
            spelled = (where or {}).get(field.name)
            found = _find(node, definitions, field.name, spelled, hints[field.name], specials)
            if found is None:
                self._missing.append((field.name, default))
                continue
            way, wire, place, needed, codec = found
            if codec is None:
                inner = {
                    name.removeprefix(f"{field.name}."): wire_way
                    for name, wire_way in (where or {}).items()
                    if name.startswith(f"{field.name}.")
                }
                codec = _codec(hints[field.name], place, definitions, label, inner, specials)
            self._parts.append(Part(field.name, way, wire, codec, default, needed))

    def read(self, said: Fields) -> Any:
        """The dataclass. Raises Unreadable when something without a default is not there."""
        values: dict[str, Any] = {}
        for part in self._parts:
            holder = said
            for step in part.way:
                holder = holder.part(step)
            value = part.codec.read(holder, part.wire)
            if value is not None:
                values[part.field] = value
            elif part.default is MISSING:
                raise holder.false(part.wire or part.field, "is missing or makes no sense")
        for name, default in self._missing:
            if default is MISSING:
                raise said.false(name, f"has no place in {self._label}")
        return self.kind(**values)

    def write(self, value: Any, field: str = "") -> dict[str, Any]:
        """The object of the wire. Raises Refused for what this version cannot carry."""
        for name, default in self._missing:
            if getattr(value, name) != default:
                raise Refused(_path(field, name), f"{self._label} has no such field; leave it out")
        wire: dict[str, Any] = {}
        for part in self._parts:
            inner = getattr(value, part.field)
            if inner is None or inner == () or (not part.needed and inner in (part.default, "")):
                continue
            holder = wire
            for step in part.way:
                holder = holder.setdefault(step, {})
            written = part.codec.write(inner, _path(field, part.field))
            if part.wire:
                holder[part.wire] = written
            else:
                holder |= written
        return wire


def spell(
    kind: type[Any],
    schema: Node,
    label: str,
    where: Mapping[str, str] | None = None,
    specials: tuple[Special, ...] = (),
) -> Shape:
    """The shape of `kind` at the top of a message's schema. `label` names the version, e.g. `OCPP 2.1`."""
    return Shape(kind, schema, schema.get("definitions", {}), label, where, specials)


def refused(error: Refused) -> Unsupported:
    """What the asker is told."""
    return Unsupported(str(error))


def _path(field: str, name: str) -> str:
    return f"{field}.{name}" if field else name


def resolve(node: Node, definitions: Node) -> Node:
    """A schema's part with its reference followed."""
    while "$ref" in node:
        node = definitions[node["$ref"].removeprefix("#/definitions/")]
    return node


_Found = tuple[tuple[str, ...], str, Node, bool, Codec | None]


def _find(
    node: Node, definitions: Node, name: str, spelled: str | None, hint: Any, specials: tuple[Special, ...]
) -> _Found | None:
    """The place of our field `name`: way, property, schema, whether it is required, codec if special."""
    way: list[str] = []
    if spelled is not None:
        *way, wire = spelled.split(".")
        for step in way:
            node = resolve(node["properties"][step], definitions) if step in node["properties"] else {}
            if not node:
                return None
    else:
        wire = wire_name(node.get("properties", {}), name) or ""
    properties = node.get("properties", {})
    for special in specials:
        if (own := special(name, hint, node)) is not None:
            return tuple(way), own[0], {}, own[0] in node.get("required", ()), own[1]
    if name == "last" and "tbc" in properties:
        return tuple(way), "tbc", {}, False, _LAST
    if wire not in properties:
        return None
    place = resolve(properties[wire], definitions)
    if wire in VERBATIM:
        place = {name: rule for name, rule in place.items() if name != "enum"}
    return tuple(way), wire, place, wire in node.get("required", ()), None


def _codec(
    hint: Any,
    node: Node,
    definitions: Node,
    label: str,
    where: Mapping[str, str] | None,
    specials: tuple[Special, ...],
) -> Codec:
    if get_origin(hint) in (Union, UnionType):
        hint = next(one for one in get_args(hint) if one is not type(None))
    if get_origin(hint) is tuple:
        inner = resolve(node.get("items", {}), definitions)
        return _items(_codec(get_args(hint)[0], inner, definitions, label, where, specials))
    if isinstance(hint, type) and issubclass(hint, Enum):
        return _word(hint, node, label)
    if is_dataclass(hint) and isinstance(hint, type):
        return _object(Shape(hint, node, definitions, label, where, specials))
    if hint is str:
        return _text(node)
    return _PLAIN[hint]


def _items(codec: Codec) -> Codec:
    def read(said: Fields, name: str) -> tuple[Any, ...] | None:
        found = []
        for place, value in enumerate(said.items(name)):
            one = Fields({"": value}, said.notes, said.path(f"{name}[{place}]"))
            try:
                inner = codec.read(one, "")
            except Unreadable as error:
                said.notes.add(error.field, error.problem)
                inner = None
            if inner is not None:
                found.append(inner)
        return tuple(found)

    def write(values: tuple[Any, ...], field: str) -> list[Any]:
        return [codec.write(value, f"{field}[{place}]") for place, value in enumerate(values)]

    return Codec(read, write)


def _object(shape: Shape) -> Codec:
    def read(said: Fields, name: str) -> Any:
        inner = said.raw(name)
        if inner is None:
            return None
        path = said.path(name)
        return shape.read(Fields(inner, said.notes, f"{path}." if path else ""))

    return Codec(read, shape.write)


def _word(kind: type[Enum], node: Node, label: str) -> Codec:
    members: dict[str, str] = {our_word(word): word for word in node.get("enum", ())}
    folded = {word.lower(): ours for ours, word in members.items()}
    known = {member.value for member in kind}

    def read(said: Fields, name: str) -> Enum | None:
        text = said.text(name)
        ours = folded.get(text.lower(), "")
        if ours in known:
            return kind(ours)
        if text:
            said.notes.add(said.path(name), f"{text!r:.60} is not of the standard")
        return None

    def write(value: Enum, field: str) -> str:
        if value.value not in members:
            raise Refused(field, f"{label} has no {value.value}")
        return members[value.value]

    return Codec(read, write)


def _text(node: Node) -> Codec:
    """A text; where the standard has a list of words, ours for a word it knows and else as it came."""
    members: dict[str, str] = {our_word(word): word for word in node.get("enum", ())}
    folded = {word.lower(): ours for ours, word in members.items()}
    longest = int(node.get("maxLength", 0))

    def read(said: Fields, name: str) -> str | None:
        if said.raw(name) is None:
            return None
        text = _whole_text(said, name) if longest > _KEPT else said.text(name)
        return folded.get(text.lower(), text) if folded else text

    def write(value: str, field: str) -> str:
        if members and value not in members:
            raise Refused(field, f"{value!r:.60} is none of {', '.join(members)}")
        return members.get(value, value)

    return Codec(read, write)


_KEPT = 2500
"""`Fields.text` cuts here; certificates and their requests are longer."""


def _whole_text(said: Fields, name: str) -> str:
    value = said.raw(name)
    return value.replace("\0", "").strip() if isinstance(value, str) else said.text(name)


def _read_decimal(said: Fields, name: str) -> Decimal | None:
    number = said.number(name)
    return None if number is None else Decimal(str(number))


def _read_flag(said: Fields, name: str) -> bool | None:
    return None if said.raw(name) is None else said.flag(name)


def _write_number(value: float | Decimal, field: str) -> float:
    return round(float(value), DECIMALS)


def _write_same(value: Any, field: str) -> Any:
    return value


_PLAIN: Mapping[Any, Codec] = {
    int: Codec(Fields.whole, _write_same),
    bool: Codec(_read_flag, _write_same),
    float: Codec(Fields.number, _write_number),
    Decimal: Codec(_read_decimal, _write_number),
    datetime: Codec(Fields.time, lambda value, field: write_time(value)),
}

_LAST = Codec(lambda said, name: not said.flag(name), lambda value, field: not value)
"""Our `last` is the wire's "to be continued", the other way round."""
