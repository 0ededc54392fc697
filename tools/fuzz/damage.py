"""Spoils a message. Pure: the same generator gives the same damage."""

import copy
import json
from collections.abc import Callable, Iterator
from random import Random
from typing import Any

STRANGE: tuple[Any, ...] = (
    None, True, 0, -1, 2**31 - 1, 2**31, 2**63, -(2**63), 10**30, 1e308, -0.0, 0.1, "", " ",
    "\x00", "\x00x\x00",
    "NaN", "Infinity", "-1", "١٢٣", "\u202e", "😀" * 20, "a\u0301" * 30, "x" * 5_000, [], {}, [[]], [None],
    {"a": {"b": {"c": []}}}, "1970-01-01T00:00:00Z", "9999-12-31T23:59:59.999999999Z", "2026-02-30T25:61:61Z",
)  # fmt: skip

Path = tuple[str | int, ...]


def places(value: Any, path: Path = ()) -> Iterator[Path]:
    """Every place in a document, the deepest too."""
    if isinstance(value, dict):
        for name, inner in value.items():
            yield (*path, name)
            yield from places(inner, (*path, name))
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield (*path, place)
            yield from places(inner, (*path, place))


def put(document: Any, path: Path, change: Callable[[Any, str | int], None]) -> None:
    """Apply `change` to the container at the end of `path` with its last step."""
    for step in path[:-1]:
        document = document[step]
    change(document, path[-1])


def payload(told: dict[str, Any], random: Random) -> dict[str, Any]:
    """A copy with one to four places spoilt."""
    spoilt: dict[str, Any] = json.loads(json.dumps(told))
    for _ in range(random.randint(1, 4)):
        found = list(places(spoilt))
        if not found:
            spoilt[random.choice(("x", "timestamp", "customData"))] = copy.deepcopy(random.choice(STRANGE))
            continue
        put(spoilt, random.choice(found), random.choice(CHANGES)(random))
    return spoilt


def _strange(random: Random) -> Callable[[Any, Any], None]:
    value = copy.deepcopy(random.choice(STRANGE))
    return lambda container, step: container.__setitem__(step, value)


def _drop(_random: Random) -> Callable[[Any, Any], None]:
    return lambda container, step: container.__delitem__(step)


def _as_text(_random: Random) -> Callable[[Any, Any], None]:
    return lambda container, step: container.__setitem__(step, json.dumps(container[step]))


def _in_list(random: Random) -> Callable[[Any, Any], None]:
    deep = random.choice((1, 2, 20, 60))

    def change(container: Any, step: Any) -> None:
        value = container[step]
        for _ in range(deep):
            value = [value]
        container[step] = value

    return change


def _many(random: Random) -> Callable[[Any, Any], None]:
    times = random.choice((2, 3, 100))
    return lambda container, step: container.__setitem__(step, [container[step]] * times)


def _other_name(random: Random) -> Callable[[Any, Any], None]:
    def change(container: Any, step: Any) -> None:
        if isinstance(step, str):
            container[random.choice((step.upper(), step + "x", "", "\x00"))] = container.pop(step)

    return change


CHANGES = (_strange, _strange, _strange, _drop, _as_text, _in_list, _many, _other_name)


def text(frame: str, random: Random) -> str | bytes:
    """A frame spoilt as a text: cut, bits turned, doubled, quotes lost, as bytes."""
    match random.randrange(7):
        case 0:
            return frame[: random.randrange(len(frame) + 1)]
        case 1:
            raw = bytearray(frame.encode())
            for _ in range(random.randint(1, 6)):
                raw[random.randrange(len(raw))] ^= 1 << random.randrange(8)
            return raw.decode("utf-8", "replace")
        case 2:
            return frame + frame
        case 3:
            return frame.replace('"', "", random.randint(1, 3))
        case 4:
            return frame.encode()
        case 5:
            place = random.randrange(len(frame))
            return (
                frame[:place] + random.choice(("\x00", "\ufffd", "😀", "[" * 50, ",", "//")) + frame[place:]
            )
        case _:
            return random.choice(("", " ", "[]", "null", "[2]", '[3,"x",{}]', "[" * 100_000, "x" * 70_000))


def frame(parts: list[Any], random: Random) -> str | bytes:
    """A message as a station that has gone wrong would send it; every tenth is left as it is."""
    kind = random.randrange(10)
    if kind == 0:
        return json.dumps(parts)
    if kind <= 6 and isinstance(parts[-1], dict):
        return json.dumps([*parts[:-1], payload(parts[-1], random)])
    if kind == 7:
        spoilt = list(parts)
        spoilt[random.randrange(len(spoilt))] = random.choice(STRANGE)
        return json.dumps(spoilt)
    if kind == 8:
        spoilt = list(parts)
        random.shuffle(spoilt)
        return json.dumps(spoilt)
    return text(json.dumps(parts), random)
