"""Offers near their fair share stay; what is left goes to the worst-off by whole amperes."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from csms.power.installation import LINES, Circuit, Installation, Line, System
from csms.power.sharing.allocator import allocate
from csms.power.sharing.currents import Network
from csms.power.sharing.demand import Demand, Load, usual_connection
from csms.power.sharing.strategies import FIRST_COME
from csms.power.steering.base_load import BuildingMeter
from csms.power.steering.steady import BAND_A, steady

L1 = (Line.L1,)
USED = [(0,), (1,), (2,), (0, 1), (0, 1, 2)]


def board(limit_a: float, **more: Any) -> Network:
    circuit = Circuit(id="board", limit_a=dict.fromkeys(LINES, limit_a))
    return Network(Installation(system=System.TN_400, circuits=(circuit,), **more))


def car(name: str, **more: Any) -> Demand:
    return Demand(**{"id": name, "circuit": "board", "lines": L1, "step_a": 0.1, **more})


def kept(
    network: Network, demands: list[Demand], offered_a: Mapping[str, float], base_a: float = 0.0
) -> dict[str, float]:
    base = {"board": {Line.L1: base_a}}
    found = allocate(network, demands, base_a=base)
    return steady(found, demands, offered_a, network, base, ())


def test_room_of_an_ampere_goes_whole_to_the_worst_off() -> None:
    """Eight cars at 7 A of 58 A: each is due 0.25 A more, too little to be sent; two get an ampere."""
    demands = [car(f"car {n}") for n in range(8)]
    offered = {d.id: 7.0 for d in demands} | {"car 5": 6.9}
    found = kept(board(58.0), demands, offered)
    assert found == offered | {"car 5": 7.9, "car 0": 8.0}


def test_less_than_an_ampere_of_room_moves_nobody() -> None:
    demands = [car(f"car {n}") for n in range(4)]
    offered = {"car 0": 8.4, "car 1": 7.6, "car 2": 8.0, "car 3": 8.0}
    assert kept(board(32.9), demands, offered) == offered


def test_who_has_more_than_its_share_gives_first_when_the_building_takes_more() -> None:
    demands = [car(f"car {n}") for n in range(2)]
    offered = {"car 0": 16.5, "car 1": 15.5}
    # 0.4 A must go: the fair ones are 15.8 A, and the worse-off keeps its 15.5 A.
    assert kept(board(32.0), demands, offered, base_a=0.4) == {"car 0": 15.8, "car 1": 15.5}
    assert kept(board(32.0), demands, offered, base_a=9.0) == {"car 0": 11.5, "car 1": 11.5}


def test_a_car_that_takes_less_gives_the_rest_away_at_once() -> None:
    demands = [car("car 0", max_a=7.5), car("car 1")]
    found = kept(board(32.0), demands, {"car 0": 8.0, "car 1": 24.0})
    assert found == {"car 0": 7.5, "car 1": 24.0}


def test_who_starts_gets_its_share_whole() -> None:
    demands = [car("car 0"), car("car 1")]
    assert kept(board(32.0), demands, {"car 0": 32.0}) == {"car 0": 16.0, "car 1": 16.0}


def test_where_order_counts_nothing_is_changed() -> None:
    network = board(32.0, strategy=FIRST_COME)
    demands = [car("car 0", connected_s=9.0), car("car 1", connected_s=5.0)]
    exact = allocate(network, demands).offers_a
    assert kept(network, demands, {"car 0": 25.5, "car 1": 6.0}) == exact


@given(
    limit_a=st.floats(20.0, 80.0),
    cars=st.lists(st.tuples(st.sampled_from(USED), st.floats(0, 20)), min_size=1, max_size=9),
    moved=st.lists(st.floats(-1.5, 1.5), min_size=9, max_size=9),
    delta=st.booleans(),
)
def test_any_garage_keeps_its_limits_and_is_fair_to_within_the_band(
    limit_a: float, cars: list[tuple[tuple[int, ...], float]], moved: list[float], delta: bool
) -> None:
    circuit = Circuit(id="board", limit_a=dict.fromkeys(LINES, limit_a))
    network = Network(Installation(system=System.IT_230 if delta else System.TN_400, circuits=(circuit,)))
    demands = [
        car(f"car {n}", lines=LINES[:2] if delta and len(on) < 3 else tuple(LINES[i] for i in on), step_a=0.0)
        for n, (on, _) in enumerate(cars)
    ]
    demands = [replace(d, max_a=12.0 + more) for d, (_, more) in zip(demands, cars, strict=True)]
    exact = allocate(network, demands)
    offered = {id: amps + more for (id, amps), more in zip(exact.offers_a.items(), moved, strict=False)}
    found = steady(exact, demands, offered, network, {}, ())
    assert found.keys() == exact.offers_a.keys()
    loads = [
        Load(
            "board",
            d.lines,
            d.connection or usual_connection(network.installation.system, d.lines),
            found[d.id],
        )
        for d in demands
        if d.id in found
    ]
    for line, amperes in network.line_currents(network.usage(loads))["board"].items():
        assert amperes <= limit_a + 1e-6, line
    for demand in demands:
        if demand.id in found:
            assert abs(found[demand.id] - exact.offers_a[demand.id]) <= BAND_A + 1e-6
            assert demand.min_a - 1e-6 <= found[demand.id] <= demand.max_a + 1e-6


def test_the_decision_hands_out_an_ampere_that_no_car_alone_is_due(yard: Callable[..., Any]) -> None:
    """Four cars at 7.5 A, then 1.2 A more for all: 0.3 A each is too little to be sent."""
    site = yard(bays=4, meter=BuildingMeter(), step_a=0.1).connect()
    site.building(2.0)
    site.settle(1)
    site.plug(0, 1, 2, 3)
    for building_a, expected in ((2.0, [7.5] * 4), (0.8, [8.5, 7.5, 7.5, 7.5])):
        for _ in range(90):
            site.building(building_a)
            site.now_s += 1.0
            site.look()
            site.answer_all()
        assert sorted(site.offered(), reverse=True) == expected
        assert site.overfull() == []
