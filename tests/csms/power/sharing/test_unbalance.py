import random
from collections.abc import Sequence
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from csms.errors import OurFault
from csms.power.installation import LINES, Circuit, Installation, Line, System
from csms.power.sharing.allocator import allocate
from csms.power.sharing.currents import Network
from csms.power.sharing.demand import Bound, BoundKind, Connection, Demand, Load
from csms.power.sharing.max_min import MaxMin
from csms.power.sharing.strategies import STRATEGIES
from csms.power.sharing.strategy import Strategy
from csms.power.sharing.unbalance import Evenness, check_evenness, evenness, excess

L1, L2, L3 = LINES


def site(unbalance_a: float | None = 20.0, limit_a: float = 63.0, **more: Any) -> Network:
    main = Circuit(id="main", limit_a=dict.fromkeys(LINES, limit_a), unbalance_a=unbalance_a, **more)
    return Network(Installation(system=System.TN_400, circuits=(main,)))


def car(id: str, *lines: Line, **more: Any) -> Demand:
    return Demand(**{"id": id, "circuit": "main", "lines": lines or (L1,), **more})


def test_one_car_alone_has_no_more_than_the_limit() -> None:
    """VDE-AR-N 4100: 4.6 kVA between lines, 20 A at 230 V (from memory)."""
    found = allocate(site(), [car("a")])
    assert found.offers_a == {"a": pytest.approx(20.0)}
    assert found.bounds["a"] == Bound(BoundKind.UNBALANCE, "main", L1)


def test_a_car_on_a_weak_line_lifts_the_others() -> None:
    """By hand: with 8 A on L2 and 32 A at most on L3, line 1 may have 28 A."""
    cars = [car("a", L1), car("b", L2, max_a=8.0), car("c", L3)]
    found = allocate(site(), cars)
    assert found.offers_a == pytest.approx({"a": 28.0, "b": 8.0, "c": 28.0})
    assert found.bounds["b"] == Bound(BoundKind.CAR_MAXIMUM)
    assert found.bounds["c"] == Bound(BoundKind.UNBALANCE, "main", L3)


def test_the_building_is_not_counted_but_its_limit_wins() -> None:
    cars = [car("a", L1), car("b", L2), car("c", L3)]
    found = allocate(site(), cars, base_a={"main": {L1: 53.0}})
    assert found.offers_a == pytest.approx({"a": 10.0, "b": 30.0, "c": 30.0})
    assert found.bounds["a"] == Bound(BoundKind.CIRCUIT_LINE, "main", L1)


def test_what_is_unequal_already_is_not_made_worse() -> None:
    taken = Load("main", (L1,), Connection.LINES, 30.0)
    found = allocate(site(), [car("a", L1), car("b", L2)], reserved=[taken])
    assert found.offers_a == pytest.approx({"b": 30.0})
    assert found.bounds["a"] == Bound(BoundKind.UNBALANCE, "main", L1)
    both = allocate(site(), [car("a", L1), car("b", L2), car("c", L3)], reserved=[taken])
    assert both.offers_a == pytest.approx({"a": 32.0, "b": 32.0, "c": 32.0})


def test_cars_that_make_it_too_unequal_alone_are_let_in_together() -> None:
    assert allocate(site(4.0), [car("a", L1)]).paused == ("a",)
    assert allocate(site(4.0), [car("a", L1), car("b", L2)]).paused == ("a", "b")
    found = allocate(site(4.0), [car("a", L1), car("b", L2), car("c", L3, max_a=10.0), car("d", L1)])
    assert found.paused == ()
    assert found.offers_a == pytest.approx({"a": 7.0, "b": 14.0, "c": 10.0, "d": 7.0})
    # 9 A at most on L2: line 1 may have 13 A, which is enough for two cars and not for three.
    four = allocate(
        site(4.0), [car("a", L1), car("b", L2, max_a=9.0), car("c", L3), car("d", L1), car("e", L1)]
    )
    assert four.paused == ("e",)
    assert four.bounds["e"] == Bound(BoundKind.UNBALANCE, "main", L1)
    assert four.offers_a["a"] + four.offers_a["d"] == pytest.approx(13.0)


def test_steps_do_not_make_it_too_unequal() -> None:
    # Exact are 9.5 A on L3 and so 19.5 A on L1 and L2; rounded down one by one, L1 has 18 A and L3 9 A.
    place = site(10.0)
    cars = [car(name, line, step_a=1.0) for name, line in [("a", L1), ("b", L1), ("c", L1), ("d", L2)]]
    found = allocate(place, [*cars, car("e", L3, max_a=9.5, step_a=1.0)])
    assert found.offers_a["e"] == 9.0
    lines = found.line_a["main"]
    assert max(lines.values()) - min(lines.values()) <= 10.0 + 1e-6
    # 9 A on L3: 19 A may be on L1, for three cars at least 18.
    assert sorted(found.offers_a[name] for name in "abc") == [6.0, 6.0, 7.0]
    assert found.offers_a["d"] == 19.0


def test_a_step_that_cannot_be_found_leaves_the_last_car_out() -> None:
    # Exactly 6.4 A on L1 and L2 would do; whole amperes from 6.4 up are 7 A, and L3 has no more than 6 A.
    cars = [
        car("a", L1, min_a=6.5, step_a=1.0),
        car("b", L2, min_a=6.5, step_a=1.0),
        car("c", L3, max_a=6.9, step_a=0.1),
        car("d", L3, max_a=6.4, step_a=1.0, waiting_s=-1.0),
    ]
    found = allocate(site(0.05), cars[:3])
    assert found.paused == ("a", "b", "c")
    assert allocate(site(0.1), cars[:3]).offers_a == {"a": 7.0, "b": 7.0, "c": 6.9}


def test_what_is_broken_is_refused() -> None:
    limit = Evenness((0, 1, 2), 20.0)
    check_evenness([limit], [20.0, 0.0, 0.0, 0.0])
    assert excess([limit, limit], [26.0, 5.0, 9.0, 0.0]) == pytest.approx(2.0)
    with pytest.raises(OurFault, match=r"1\.000000 A too unequal"):
        check_evenness([limit], [26.0, 5.0, 9.0, 0.0])


def test_without_a_limit_nothing_is_kept() -> None:
    assert evenness(site(None), [0.0] * 4) == ()
    assert allocate(site(None), [car("a")]).offers_a == {"a": 32.0}


@st.composite
def garages(draw: st.DrawFn) -> tuple[Network, list[Demand]]:
    amperes = st.integers(60, 630).map(lambda tenths: tenths / 10)
    limits = st.fixed_dictionaries(dict.fromkeys(LINES, amperes))
    spread = st.none() | st.sampled_from([0.0, 3.0, 10.0, 20.0])
    circuits = (
        Circuit(
            id="main", limit_a=draw(limits), unbalance_a=draw(spread), cap_w=draw(st.none() | st.just(2e4))
        ),
        Circuit(id="board", fed_from="main", limit_a=draw(limits), unbalance_a=draw(spread)),
    )
    demands = [
        Demand(
            id=f"c{i}",
            circuit=draw(st.sampled_from(["main", "board"])),
            lines=draw(st.sampled_from([(L1,), (L2,), (L3,), (L2, L3), LINES])),
            max_a=draw(st.sampled_from([6.0, 10.0, 16.0, 32.0])),
            weight=draw(st.sampled_from([1.0, 1.0, 2.0])),
            priority=draw(st.integers(0, 1)),
            connected_s=draw(st.sampled_from([0.0, 60.0])),
            plan_a=draw(st.none() | st.sampled_from([0.0, 8.0])),
            step_a=draw(st.sampled_from([0.0, 0.1, 1.0])),
        )
        for i in range(draw(st.integers(0, 8)))
    ]
    return Network(Installation(system=System.TN_400, circuits=circuits)), demands


@settings(max_examples=200, deadline=None)
@given(garages(), st.sampled_from(STRATEGIES), st.randoms(use_true_random=False))
def test_every_limit_holds_for_any_garage_and_strategy(
    garage: tuple[Network, list[Demand]], strategy: Strategy, shuffle: random.Random
) -> None:
    place, demands = garage
    found = allocate(place, demands, strategy=strategy)
    assert set(found.offers_a) | set(found.paused) == {d.id for d in demands} == set(found.bounds)
    loads = []
    for demand in demands:
        if (offer := found.offers_a.get(demand.id)) is not None:
            assert demand.min_a - 1e-6 <= offer <= demand.max_a + 1e-6
            loads.append(Load(demand.circuit, demand.lines, Connection.LINES, offer))
            if demand.step_a:
                assert offer / demand.step_a == pytest.approx(round(offer / demand.step_a), abs=1e-6)
    usage = place.usage(loads)
    for head, carried in zip(place.heads(), usage, strict=True):
        assert not abs(carried) or abs(carried) <= head + 1e-4
    for i, most_a in place.unbalances:
        lines = [abs(usage[4 * i + k]) for k in range(3)]
        assert max(lines) - min(lines) <= most_a + 1e-4
    again = list(demands)
    shuffle.shuffle(again)
    assert allocate(place, again, strategy=strategy).offers_a == pytest.approx(dict(found.offers_a), abs=1e-5)


def test_hundreds_that_wait_cost_few_questions_to_the_solver(monkeypatch: pytest.MonkeyPatch) -> None:
    """300 cars on L1 and 6 on each other line, 5 A apart at most: whom the sums alone refuse is not asked
    about. One question per admitted car, and a few about pairs."""
    asked: list[int] = []
    fits = MaxMin.fits

    def counted(self: MaxMin, cars: Sequence[int]) -> bool:
        asked.append(len(cars))
        return fits(self, cars)

    monkeypatch.setattr(MaxMin, "fits", counted)
    main = Circuit(id="main", limit_a=dict.fromkeys(LINES, 400.0), unbalance_a=5.0)
    place = Network(Installation(system=System.TN_400, circuits=(main,)))
    lines = [L1] * 300 + [L2] * 6 + [L3] * 6
    demands = [
        Demand(id=f"{i:03}", circuit="main", lines=(line,), max_a=16.0) for i, line in enumerate(lines)
    ]
    found = allocate(place, demands)
    # By hand: 6 x 16 A on L2 and L3 let L1 have 101 A, 16 cars at 6 A and more.
    carried = {
        line: sum(found.offers_a.get(d.id, 0.0) for d in demands if d.lines == (line,)) for line in LINES
    }
    assert carried == pytest.approx({L1: 101.0, L2: 96.0, L3: 96.0})
    assert len(found.offers_a) == 16 + 12
    assert len(asked) <= 2 * len(found.offers_a)
