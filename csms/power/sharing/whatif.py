"""The what-if of an electrician: a supply and some cars as JSON, who gets what as JSON.

In: `{"system", "circuits": [{"id", "fed_from", "limit_a", "base_a"?, "device_a"?, "cap_w"?,
"unbalance_a"?}], "unbalance_a"?, "strategy"?, "fairness"?, "demands": [{"id", "circuit", "lines",
"connection"?, "min_a"?, "max_a"?, "weight"?, "priority"?, "waiting_s"?, "connected_s"?, "plan_a"?,
"can_choose_line"?}]}`. A limit or base load is one number for all lines, or one per line. The upper
`unbalance_a` is that of the supply; `can_choose_line` lets a single-phase car have any of its circuit's.
Out: `{"offers_a", "paused", "bound_by", "circuits": [{"id", "line_a", "limit_a"}], "lines"?}`; `lines`
are those chosen.
"""

import math
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from enum import StrEnum
from typing import Never, TypeVar, cast

from csms.errors import InvalidInput
from csms.power.installation import LINES, Circuit, Installation, Line, System
from csms.power.sharing.allocator import Allocation, allocate
from csms.power.sharing.demand import Connection, Demand
from csms.power.sharing.strategies import strategy_named
from csms.power.sharing.strategy import Fairness

E = TypeVar("E", bound=StrEnum)

_DECIMALS = 6


def what_if(document: object, step_a: Decimal | float = 0) -> dict[str, object]:
    """Share the supply that `document` describes; `step_a` 0 is exact, else offers are multiples of it.

    InvalidInput names the field that is wrong.
    """
    step = float(step_a)
    if not math.isfinite(step) or step < 0:
        raise InvalidInput("step_a", "must be 0 (exact) or the step in A")
    top = _Fields("", document, {"system", "circuits", "unbalance_a", "strategy", "fairness", "demands"})
    system = top.choice("system", System)
    circuits = tuple(_circuit(fields) for fields in top.objects("circuits", _CIRCUIT_FIELDS))
    site = Installation(
        system=system,
        circuits=_with_unbalance(top, circuits),
        fairness=top.choice("fairness", Fairness) if "fairness" in top.values else Fairness.AMPERES,
        strategy=strategy_named(top.text("strategy")) if "strategy" in top.values else None,
    )
    by_id = {circuit.id: circuit for circuit in circuits}
    demands: list[Demand] = []
    for fields in top.objects("demands", _DEMAND_FIELDS):
        demand = _demand(fields, system, by_id, step)
        if any(demand.id == other.id for other in demands):
            fields.fail("id", f"{demand.id!r} is there twice")
        demands.append(demand)
    return _shown(site, allocate(site, demands))


_CIRCUIT_FIELDS = {"id", "fed_from", "limit_a", "base_a", "device_a", "cap_w", "unbalance_a"}
_DEMAND_FIELDS = {
    "id", "circuit", "lines", "connection", "min_a", "max_a", "weight", "priority", "waiting_s",
    "connected_s", "plan_a", "can_choose_line",
}  # fmt: skip


def _with_unbalance(top: "_Fields", circuits: tuple[Circuit, ...]) -> tuple[Circuit, ...]:
    """The supply's limit on unbalance may stand at the top of the document."""
    if "unbalance_a" not in top.values:
        return circuits
    unbalance_a = top.number("unbalance_a")
    for circuit in circuits:
        if circuit.fed_from is None and circuit.unbalance_a is not None:
            top.fail("unbalance_a", f"is given for {circuit.id!r} too; leave one out")
    return tuple(
        replace(circuit, unbalance_a=unbalance_a) if circuit.fed_from is None else circuit
        for circuit in circuits
    )


def _circuit(fields: "_Fields") -> Circuit:
    fed_from = fields.values.get("fed_from")
    if fed_from is not None and not isinstance(fed_from, str):
        fields.fail("fed_from", "must be null (the supply) or the id of a circuit")
    limit_a = fields.per_line("limit_a", LINES)
    return Circuit(
        id=fields.text("id"),
        fed_from=fed_from,
        limit_a=limit_a,
        base_a=fields.per_line("base_a", tuple(limit_a)) if "base_a" in fields.values else {},
        device_a=fields.number("device_a") if "device_a" in fields.values else None,
        cap_w=fields.number("cap_w") if "cap_w" in fields.values else None,
        unbalance_a=fields.number("unbalance_a") if "unbalance_a" in fields.values else None,
    )


def _demand(fields: "_Fields", system: System, circuits: Mapping[str, Circuit], step: float) -> Demand:
    circuit = circuits.get(fields.text("circuit"))
    if circuit is None:
        fields.fail("circuit", f"there is no circuit {fields.values['circuit']!r}")
    lines = _lines(fields, circuit)
    connection = _connection(fields, system, lines)
    min_a = fields.number("min_a", 6.0)
    max_a = fields.number("max_a", 32.0)
    if max_a < min_a:
        fields.fail("max_a", f"is below min_a, {min_a:g}")
    weight = fields.number("weight", 1.0)
    if weight <= 0:
        fields.fail("weight", "must be above 0")
    priority = fields.values.get("priority", 0)
    if isinstance(priority, bool) or not isinstance(priority, int):
        fields.fail("priority", "must be a whole number; the higher is served first")
    return Demand(
        id=fields.text("id"),
        circuit=circuit.id,
        lines=lines,
        connection=connection,
        min_a=min_a,
        max_a=max_a,
        weight=weight,
        priority=priority,
        waiting_s=fields.number("waiting_s", 0.0),
        connected_s=fields.number("connected_s", 0.0),
        plan_a=fields.number("plan_a") if "plan_a" in fields.values else None,
        choices=_choices(fields, system, circuit, lines),
        step_a=step,
    )


def _lines(fields: "_Fields", circuit: Circuit) -> tuple[Line, ...]:
    given = fields.values.get("lines")
    if not isinstance(given, list) or not 1 <= len(given) <= 3:
        fields.fail("lines", 'must be a list of 1 to 3 lines, e.g. ["L1"]')
    lines: list[Line] = []
    for i, name in enumerate(cast("list[object]", given)):
        if name not in list(LINES):
            fields.fail(f"lines[{i}]", f"must be L1, L2 or L3, not {name!r}")
        line = Line(cast(str, name))
        if line in lines:
            fields.fail(f"lines[{i}]", f"{line} is there twice")
        if line not in circuit.limit_a:
            fields.fail(f"lines[{i}]", f"circuit {circuit.id!r} has no {line}")
        lines.append(line)
    return tuple(lines)


def _choices(
    fields: "_Fields", system: System, circuit: Circuit, lines: tuple[Line, ...]
) -> tuple[Line, ...]:
    chooses = fields.values.get("can_choose_line", False)
    if not isinstance(chooses, bool):
        fields.fail("can_choose_line", "must be true or false")
    if not chooses:
        return ()
    if system.is_delta or len(lines) != 1:
        fields.fail("can_choose_line", "is for a car on one line of a supply with neutral")
    return tuple(line for line in LINES if line in circuit.limit_a)


def _connection(fields: "_Fields", system: System, lines: tuple[Line, ...]) -> Connection:
    if not system.is_delta:
        if "connection" in fields.values:
            fields.fail("connection", f"belongs to systems without neutral, not to {system}")
        return Connection.LINES
    if len(lines) < 2:
        fields.fail("lines", f"must name two or three lines: {system} has no neutral")
    usual = Connection.PAIR if len(lines) == 2 else Connection.BALANCED
    connection = fields.choice("connection", Connection) if "connection" in fields.values else usual
    if connection is Connection.LINES:
        fields.fail("connection", "must be pair, balanced or open_delta")
    if (connection is Connection.PAIR) != (len(lines) == 2):
        fields.fail("connection", f"{connection} does not go with {len(lines)} lines")
    return connection


def _shown(site: Installation, allocation: Allocation) -> dict[str, object]:
    """Offers are cut after six decimals, never rounded up, so that they fit as printed."""
    return {
        "offers_a": {
            key: math.floor(value * 10**_DECIMALS + 1e-3) / 10**_DECIMALS
            for key, value in allocation.offers_a.items()
        },
        "paused": list(allocation.paused),
        "bound_by": {
            key: {
                "kind": str(bound.kind),
                **({"circuit": bound.circuit} if bound.circuit is not None else {}),
                **({"line": str(bound.line)} if bound.line is not None else {}),
            }
            for key, bound in allocation.bounds.items()
        },
        "circuits": [
            {
                "id": circuit.id,
                "line_a": {
                    str(line): round(value, _DECIMALS)
                    for line, value in allocation.line_a[circuit.id].items()
                },
                "limit_a": {str(line): value for line, value in circuit.limit_a.items()},
            }
            for circuit in site.circuits
        ],
        **({"lines": {k: str(line) for k, line in allocation.lines.items()}} if allocation.lines else {}),
    }


class _Fields:
    """One JSON object whose place is known, so that every complaint can name it."""

    def __init__(self, path: str, value: object, known: set[str]) -> None:
        self.path = path
        if not isinstance(value, dict):
            raise InvalidInput(path or "document", "must be an object { ... }")
        self.values: dict[str, object] = value
        for name in self.values:
            if name not in known:
                self.fail(name, f"is not known here; known: {', '.join(sorted(known))}")

    def at(self, name: str) -> str:
        return f"{self.path}.{name}" if self.path else name

    def fail(self, name: str, problem: str) -> Never:
        raise InvalidInput(self.at(name), problem)

    def text(self, name: str) -> str:
        value = self.values.get(name)
        if not isinstance(value, str) or not value:
            self.fail(name, "must be a text that is not empty")
        return value

    def choice(self, name: str, kind: type[E]) -> E:
        value = self.values.get(name)
        for member in kind:
            if value == member.value:
                return member
        return self.fail(name, f"must be one of {', '.join(kind)}, not {value!r}")

    def number(self, name: str, default: float | None = None) -> float:
        if name not in self.values and default is not None:
            return default
        return self._number(name, self.values.get(name))

    def _number(self, name: str, value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
            self.fail(name, "must be a number")
        number = float(value)
        if not math.isfinite(number):
            self.fail(name, f"must be a finite number, not {number}")
        if number < 0:
            self.fail(name, f"must not be negative, is {number:g}")
        return number

    def per_line(self, name: str, lines: tuple[Line, ...]) -> dict[Line, float]:
        """One number for all `lines`, or an object with a number for each line it names."""
        value = self.values.get(name)
        if not isinstance(value, dict):
            number = self._number(name, value)
            return dict.fromkeys(lines, number)
        for key in value:
            if key not in list(LINES):
                self.fail(f"{name}.{key}", "is no line; lines are L1, L2, L3")
        return {
            line: self._number(f"{name}.{line}", value[line.value]) for line in LINES if line.value in value
        }

    def objects(self, name: str, known: set[str]) -> "list[_Fields]":
        value = self.values.get(name)
        if not isinstance(value, list):
            self.fail(name, "must be a list [ ... ]")
        return [_Fields(f"{self.at(name)}[{i}]", item, known) for i, item in enumerate(value)]
