"""Where in a file something stands, and what is wrong there."""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Line and column in a file, both counted from 1."""

    line: int
    column: int

    def __str__(self) -> str:
        return f"{self.line}:{self.column}"


TOP = Place(1, 1)


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """What is wrong at `place`. `path` names the value, e.g. `circuits[2].limit_a.L1`; "" is the file."""

    place: Place
    path: str
    problem: str

    def __str__(self) -> str:
        return f"{self.path}: {self.problem}" if self.path else self.problem


def nearest(places: Mapping[str, Place], path: str) -> Place:
    """The place of `path`, or of the nearest thing that it is part of."""
    while path and path not in places:
        path = path[: max(path.rfind("."), path.rfind("["), 0)]
    return places.get(path, TOP)
