import random
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from csms.power.installation import LINES, Circuit, Installation, System
from csms.power.sharing.allocator import allocate
from csms.power.sharing.currents import Network
from csms.power.sharing.demand import Bound, BoundKind, Connection, Demand, Load
from csms.power.sharing.strategies import EQUAL, FIRST_COME, STRATEGIES
from csms.power.sharing.strategy import Fairness, Strategy

L1, L2, L3 = LINES


def site(limit_a: float = 32.0, system: System = System.TN_400, **more: Any) -> Installation:
    main = Circuit(id="main", limit_a=dict.fromkeys(LINES, limit_a), **more)
    board = Circuit(id="board", fed_from="main", limit_a=dict.fromkeys(LINES, 16.0))
    return Installation(system=system, circuits=(main, board))


def car(id: str, **more: Any) -> Demand:
    return Demand(**{"id": id, "circuit": "main", "lines": LINES, **more})


def test_a_waiting_car_says_which_circuit_and_line_had_no_room() -> None:
    found = allocate(
        site(), [car("a", circuit="board"), car("b", circuit="board"), car("c", circuit="board")]
    )
    assert found.offers_a == {"a": 8.0, "b": 8.0}
    assert found.paused == ("c",)
    assert found.bounds["c"].kind is BoundKind.WAITING
    assert found.bounds["c"].circuit == "board"
    assert found.bounds["a"] == Bound(BoundKind.CIRCUIT_LINE, "board", L1)


def test_every_offer_says_what_bound_it() -> None:
    found = allocate(
        site(cap_w=20_000.0),
        [car("cap"), car("own", max_a=7.0), car("station", max_a=6.0, maximum_is=BoundKind.STATION)],
    )
    assert found.bounds == {
        "cap": Bound(BoundKind.CAP, "main"),
        "own": Bound(BoundKind.CAR_MAXIMUM),
        "station": Bound(BoundKind.STATION),
    }
    # 20 kW over three lines of 230 V is 28.99 A, of which 13 A are spoken for.
    assert found.offers_a["cap"] == pytest.approx(20_000 / 690 - 13)


def test_what_cannot_be_offered_at_all_is_paused_with_its_reason() -> None:
    main = Circuit(id="main", limit_a={L1: 32.0})
    found = allocate(
        Installation(system=System.TN_400, circuits=(main,)),
        [car("wide"), car("shy", lines=(L1,), max_a=5.0), car("fits", lines=(L1,))],
    )
    assert found.paused == ("wide", "shy")
    assert found.bounds["wide"] == Bound(BoundKind.LINE_MISSING, "main", L2)
    assert found.bounds["shy"] == Bound(BoundKind.MAXIMUM_TOO_LOW)
    assert found.offers_a == {"fits": 32.0}


def test_base_and_reserved_loads_come_first() -> None:
    taken = Load("board", LINES, Connection.LINES, 6.0)
    found = allocate(site(), [car("a"), car("b")], base_a={"main": {L2: 4.0}}, reserved=[taken])
    assert found.offers_a == {"a": 11.0, "b": 11.0}
    assert found.line_a["main"] == {L1: 28.0, L2: 32.0, L3: 28.0}
    assert found.line_a["board"] == dict.fromkeys(LINES, 6.0)


def test_scarcity_is_no_error() -> None:
    found = allocate(site(), [car("a")], base_a={"main": dict.fromkeys(LINES, 50.0)})
    assert found.paused == ("a",)
    assert found.line_a["main"][L1] == 50.0
    assert allocate(site(), []).offers_a == {}


def test_an_unknown_circuit_is_one() -> None:
    with pytest.raises(KeyError, match="shed"):
        allocate(site(), [car("a", circuit="shed")])


def test_steps_round_down_and_hand_out_what_is_left() -> None:
    cars = [car(name, step_a=1.0) for name in "abc"]
    assert allocate(site(), cars).offers_a == {"a": 11.0, "b": 11.0, "c": 10.0}
    fine = [car(name, step_a=0.1) for name in "abc"]
    assert allocate(site(), fine).offers_a == {"a": 10.7, "b": 10.7, "c": 10.6}
    # A minimum that is no step is asked for as the next step up.
    odd = [car("a", min_a=6.5, max_a=6.9, step_a=1.0)]
    assert allocate(site(), odd).bounds["a"].kind is BoundKind.MAXIMUM_TOO_LOW


def test_kilowatts_as_the_unit_of_fairness() -> None:
    """8 A x 690 V = 24 A x 230 V = 5.52 kW each."""
    cars = [car("three"), car("one", lines=(L1,))]
    assert allocate(site(), cars).offers_a == {"three": 16.0, "one": 16.0}
    assert allocate(site(), cars, fairness=Fairness.KILOWATTS).offers_a == {"three": 8.0, "one": 24.0}
    by_site = replace(site(), fairness=Fairness.KILOWATTS)
    assert allocate(by_site, cars).offers_a == {"three": 8.0, "one": 24.0}


def test_kilowatts_in_a_delta() -> None:
    """A pair takes 230 V x I, a balanced load sqrt(3) x 230 V x I: amperes in that proportion."""
    place = Installation(system=System.IT_230, circuits=site(limit_a=40.0).circuits)
    cars = [car("pair", lines=(L1, L2), max_a=63.0), car("three", max_a=63.0)]
    found = allocate(place, cars, fairness=Fairness.KILOWATTS).offers_a
    assert found["pair"] == pytest.approx(3**0.5 * found["three"])
    # a² + c² + sqrt(3) a c = 40² with a = sqrt(3) c: 7 c² = 1600 (the formula of a pair beside three lines)
    assert found["three"] == pytest.approx(40 / 7**0.5)
    open_delta = [
        car("pair", lines=(L1, L2), max_a=63.0),
        car("open", lines=(L2, L3, L1), max_a=63.0, connection=Connection.OPEN_DELTA),
    ]
    both = allocate(place, open_delta, fairness=Fairness.KILOWATTS).offers_a
    assert both["pair"] == pytest.approx(2 * both["open"])


def test_a_site_can_have_a_strategy_of_its_own() -> None:
    cars = [car("a", connected_s=1.0), car("b", connected_s=2.0)]
    assert allocate(replace(site(), strategy=FIRST_COME), cars).offers_a == {"a": 6.0, "b": 26.0}
    assert allocate(replace(site(), strategy=FIRST_COME), cars, strategy=EQUAL).offers_a == {
        "a": 16.0,
        "b": 16.0,
    }


def test_who_may_draw_anyway_is_admitted_before_all_others() -> None:
    cars = [car("first", priority=9, min_a=30.0), car("held", held=True, min_a=7.0)]
    assert allocate(site(), cars).paused == ("first",)


@st.composite
def garages(draw: st.DrawFn) -> tuple[Installation, list[Demand]]:
    system = draw(st.sampled_from(System))
    amperes = st.integers(0, 630).map(lambda tenths: tenths / 10)
    limits = st.fixed_dictionaries(dict.fromkeys(LINES, amperes))
    feeds = [None, *(f"c{draw(st.integers(0, i))}" for i in range(draw(st.integers(0, 5))))]
    circuits = tuple(
        Circuit(
            id=f"c{i}",
            fed_from=feed,
            limit_a=draw(limits),
            base_a=draw(st.just({}) | limits),
            cap_w=draw(st.none() | st.integers(0, 40_000)),
        )
        for i, feed in enumerate(feeds)
    )
    demands = []
    for i in range(draw(st.integers(0, 12))):
        lines = tuple(draw(st.permutations(LINES)))[: draw(st.integers(2 if system.is_delta else 1, 3))]
        kinds = [None] if not system.is_delta or len(lines) == 2 else [None, Connection.OPEN_DELTA]
        demands.append(
            Demand(
                id=f"car-{i}",
                circuit=f"c{draw(st.integers(0, len(feeds) - 1))}",
                lines=lines,
                connection=draw(st.sampled_from(kinds)),
                max_a=draw(st.sampled_from([6.0, 10.0, 16.0, 32.0])),
                weight=draw(st.sampled_from([0.5, 1.0, 3.0])),
                priority=draw(st.integers(0, 1)),
                waiting_s=draw(st.sampled_from([0.0, 60.0])),
                step_a=draw(st.sampled_from([0.0, 0.1, 1.0])),
                connected_s=draw(st.sampled_from([0.0, 60.0, 600.0])),
                plan_a=draw(st.none() | st.sampled_from([0.0, 6.5, 20.0])),
                choices=LINES if len(lines) == 1 and i < 3 and draw(st.booleans()) else (),
            )
        )
    return Installation(
        system=system, circuits=circuits, delta_margin=draw(st.sampled_from([0, 0.08]))
    ), demands


@settings(max_examples=300, deadline=None)
@given(garages(), st.sampled_from(STRATEGIES), st.sampled_from(Fairness), st.randoms(use_true_random=False))
def test_any_garage(
    garage: tuple[Installation, list[Demand]], strategy: Strategy, fairness: Fairness, shuffle: random.Random
) -> None:
    """Limits hold where cars are, minimum or nothing, a reason for each, the order given is no matter."""
    place, demands = garage
    network = Network(place)
    found = allocate(network, demands, strategy=strategy, fairness=fairness)
    demands = [
        replace(d, lines=(found.lines[d.id],), choices=()) if d.id in found.lines else d for d in demands
    ]
    assert set(found.offers_a) | set(found.paused) == {d.id for d in demands}
    assert set(found.bounds) == {d.id for d in demands}
    loads = []
    for demand in demands:
        if (offer := found.offers_a.get(demand.id)) is not None:
            assert demand.min_a - 1e-9 <= offer <= demand.max_a + 1e-9
            path_connection = demand.connection or (
                Connection.LINES
                if not place.system.is_delta
                else Connection.PAIR
                if len(demand.lines) == 2
                else Connection.BALANCED
            )
            loads.append(Load(demand.circuit, demand.lines, path_connection, offer))
    heads, usage = network.heads(), network.usage(loads)
    for head, carried in zip(heads, usage, strict=True):
        assert not abs(carried) or abs(carried) <= head + 1e-4
    shuffled = list(demands)
    shuffle.shuffle(shuffled)
    again = allocate(place, shuffled, strategy=strategy, fairness=fairness)
    assert again.offers_a == pytest.approx(dict(found.offers_a), abs=1e-9)
    # Whoever waits would not fit even if every admitted car had only its minimum.
    least = network.usage(Load(load.circuit, load.lines, load.connection, 6.0) for load in loads)
    for demand in demands:
        if found.bounds[demand.id].kind is BoundKind.WAITING:
            path = network.path(demand.circuit, demand.lines, demand.connection)
            assert isinstance(path, tuple)
            assert any(abs(least[row] + 6 * value) > heads[row] - 1e-6 for row, value in path)
