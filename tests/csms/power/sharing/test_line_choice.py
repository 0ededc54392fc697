"""The search against trying every assignment."""

import random
from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from csms.power.installation import LINES, Circuit, Installation, Line, System
from csms.power.sharing.allocator import allocate
from csms.power.sharing.currents import MissingLine, Network
from csms.power.sharing.demand import Connection, Demand
from csms.power.sharing.line_choice import LineChoice, Score, evaluations

L1, L2, L3 = LINES


def network(main: float, board: float = 100.0, base: dict[Line, float] | None = None) -> Network:
    return Network(
        Installation(
            system=System.TN_400,
            circuits=(
                Circuit(id="main", limit_a=dict.fromkeys(LINES, main), base_a=base or {}),
                Circuit(id="board", fed_from="main", limit_a=dict.fromkeys(LINES, board)),
            ),
        )
    )


def chooser(id: str, **more: Any) -> Demand:
    return Demand(**{"id": id, "circuit": "main", "lines": (L1,), "choices": LINES, **more})


def test_three_cars_on_three_lines_of_32_a_get_32_a_each() -> None:
    found = allocate(network(32.0), [chooser(name) for name in "abc"])
    assert found.offers_a == {"a": 32.0, "b": 32.0, "c": 32.0}
    assert sorted(found.lines.values()) == [L1, L2, L3]
    assert found.line_a["main"] == dict.fromkeys(LINES, 32.0)


def test_a_car_without_a_choice_keeps_its_line_and_the_others_make_room() -> None:
    cars = [chooser("a"), chooser("b"), chooser("fixed", lines=(L1,), choices=())]
    found = allocate(network(32.0), cars)
    assert found.offers_a == {"a": 32.0, "b": 32.0, "fixed": 32.0}
    assert set(found.lines.items()) in ({("a", L2), ("b", L3)}, {("a", L3), ("b", L2)})


def test_a_choice_may_let_in_who_would_have_to_wait() -> None:
    # On L1 there are 7 A, so the one that must be there gets them, whoever was first.
    place = network(13.0, base={L1: 6.0})
    cars = [chooser("first", waiting_s=9.0), chooser("must", choices=())]
    found = allocate(place, cars)
    assert found.offers_a == {"first": 13.0, "must": 7.0}


def test_the_order_in_which_cars_are_named_is_no_matter() -> None:
    place = network(40.0, 25.0, {L2: 11.0})
    cars = [chooser(f"c{i}", max_a=8.0 + 4 * i, circuit="board" if i % 2 else "main") for i in range(5)]
    found = allocate(place, cars)
    again = allocate(place, cars[::-1])
    assert (found.lines, found.offers_a) == (again.lines, again.offers_a)


@st.composite
def garages(draw: st.DrawFn) -> tuple[Network, list[Demand]]:
    """Two to five cars on a supply with two boards, most of them with a choice."""
    amperes = st.integers(60, 500).map(lambda tenths: tenths / 10)
    limits = st.fixed_dictionaries(dict.fromkeys(LINES, amperes))
    circuits = (
        Circuit(id="main", limit_a=draw(limits), cap_w=draw(st.none() | st.integers(3_000, 30_000))),
        *(Circuit(id=f"b{k}", fed_from="main", limit_a=draw(limits)) for k in range(2)),
    )
    demands = []
    for i in range(draw(st.integers(2, 5))):
        lines, choices = draw(st.sampled_from([((L1,), LINES), ((L3,), (L1, L3)), ((L2,), ()), (LINES, ())]))
        demands.append(
            Demand(
                id=f"c{i}",
                circuit=draw(st.sampled_from(["main", "b0", "b1"])),
                lines=lines,
                choices=choices,
                max_a=draw(st.sampled_from([10.0, 16.0, 20.0, 32.0])),
                weight=draw(st.sampled_from([1.0, 1.0, 2.0])),
            )
        )
    return Network(Installation(system=System.TN_400, circuits=circuits)), demands


def worth(place: Network, demands: list[Demand]) -> tuple[list[bool], list[float]]:
    """Who is admitted, in the order of service, and the levels from the worst-off up."""
    offers = allocate(place, demands).offers_a
    levels = sorted(round(offers[d.id] / d.weight, 6) for d in demands if d.id in offers)
    return [d.id in offers for d in demands], levels


@settings(max_examples=60, deadline=None)
@given(garages())
def test_the_best_of_all_assignments_is_found(garage: tuple[Network, list[Demand]]) -> None:
    place, demands = garage
    ways_of_each: list[list[tuple[Line, ...]]] = [
        [(line,) for line in d.choices] if d.choices else [d.lines] for d in demands
    ]
    best = max(
        worth(place, [replace(d, lines=lines, choices=()) for d, lines in zip(demands, ways, strict=True)])
        for ways in product(*ways_of_each)
    )
    assert worth(place, demands) == best
    # Up to six cars with a choice are few enough to try everything.
    assert evaluations(6) >= 3**6


def test_climbing_comes_as_far_as_trying_everything() -> None:
    """Where there are too many assignments. On these 20 sites of seven cars: the same cars admitted, the
    worst-off within 1 %, and the very best assignment on 9 sites of 10."""
    rnd = random.Random(20)
    same = 0
    for _ in range(20):
        limits = [{line: rnd.randint(80, 500) / 10 for line in LINES} for _ in range(3)]
        circuits = [Circuit(id="main", limit_a=limits[0])]
        circuits += [Circuit(id=f"b{k}", fed_from="main", limit_a=limits[k]) for k in (1, 2)]
        net = Network(Installation(system=System.TN_400, circuits=tuple(circuits)))
        options = []
        for _ in range(7):
            place = rnd.choice(["main", "b1", "b2"])
            ways = [net.path(place, (line,), Connection.LINES) for line in LINES]
            options.append([path for path in ways if not isinstance(path, MissingLine)])
        maximums = [rnd.choice([10.0, 16.0, 20.0, 32.0]) for _ in range(7)]
        weights = [rnd.choice([1.0, 1.0, 2.0]) for _ in range(7)]
        run = LineChoice(net.heads(), net.usage(), range(7), options, [6.0] * 7, maximums, weights)
        best = run.score(run.exhaustive([0] * 7))
        found = run.score(run.improved(run.greedy(), evaluations(7)))
        assert found[0] == best[0]
        assert found[1][0] >= 0.99 * best[1][0]
        same += found == best
    assert same >= 18


def test_no_more_is_tried_than_allowed(monkeypatch: pytest.MonkeyPatch) -> None:
    net = network(500.0)
    ways = [net.path("main", (line,), Connection.LINES) for line in LINES]
    options = [[path for path in ways if not isinstance(path, MissingLine)] for _ in range(100)]
    run = LineChoice(net.heads(), net.usage(), range(100), options, [6.0] * 100, [32.0] * 100, [1.0] * 100)
    looked: list[Sequence[int]] = []
    score = run.score

    def counted(chosen: Sequence[int]) -> Score:
        looked.append(chosen)
        return score(chosen)

    monkeypatch.setattr(run, "score", counted)
    chosen = run.best()
    assert len(looked) <= evaluations(100) == 80
    # 100 equal cars on three equal lines: 34, 33 and 33, by the greedy start alone.
    assert sorted(chosen.count(k) for k in range(3)) == [33, 33, 34]
