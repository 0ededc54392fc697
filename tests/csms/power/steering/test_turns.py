"""Turns. The bound is that of deficit round robin (Shreedhar and Varghese, SIGCOMM 1995): over any time the
shares of two cars that want all the while and exclude each other differ by about two quanta at most."""

from collections.abc import Callable
from dataclasses import replace
from itertools import accumulate
from typing import Any

import pytest

from csms.power.steering.base_load import BuildingMeter
from csms.power.steering.turns import CAP_QUANTA, MIN_OFF_S, MIN_ON_S, Contender, Turn, earnings

Make = Callable[..., Any]
TURN_S = 900


def test_a_turn_is_told_as_it_happens() -> None:
    waiting = Turn(owed_as=5.0).waits(10.0, was_offered=False)
    assert waiting == Turn(waiting_since_s=10.0, owed_as=5.0)
    running = waiting.runs(20.0)
    assert running == Turn(running_since_s=20.0, owed_as=5.0)
    assert running.runs_for_less_than(10.0, 29.9)
    assert not running.runs_for_less_than(10.0, 30.0)
    assert not waiting.runs_for_less_than(10.0, 11.0)


def test_only_who_was_taken_off_rests() -> None:
    paused = Turn(running_since_s=0.0).waits(10.0, was_offered=True)
    assert paused.rests(10.0 + MIN_OFF_S - 0.1)
    assert not paused.rests(10.0 + MIN_OFF_S)
    assert paused.rests_until_s() == 10.0 + MIN_OFF_S
    assert not Turn().waits(10.0, was_offered=False).rests(11.0)
    assert Turn().rests_until_s() is None


def test_what_is_received_is_owed_by_weight_and_adds_up_to_nothing() -> None:
    three = [Contender("a", 1.0, 12.0), Contender("a", 2.0, 0.0), Contender("b", 1.0, 7.0)]
    # 12 A for weights of 3 are 4 A each: the first had 8 A too much, the second is owed 4 A per weight.
    assert earnings(three, 10.0) == [-80.0, 40.0, 0.0]


def test_no_more_is_carried_over_than_the_cap() -> None:
    assert Turn().earned(1e9, 100.0).owed_as == CAP_QUANTA * 100.0
    assert Turn().earned(-1e9, 100.0).owed_as == -CAP_QUANTA * 100.0
    assert Turn(owed_as=50.0).earned(20.0, 100.0).owed_as == 70.0


STEP_S = 5


def taken(site: Any, hours: float, bays: int) -> list[list[float]]:
    """A·s that each car was offered, in every five seconds."""
    found: list[list[float]] = [[] for _ in range(bays)]
    for _ in range(int(hours * 3600) // STEP_S):
        site.now_s += STEP_S
        site.settle()
        for i, offer in enumerate(site.offered()):
            found[i].append((offer or 0.0) * STEP_S)
    return found


def widest(one: list[float], other: list[float], weights: tuple[float, float]) -> float:
    """The largest difference of received per weight over any window, in A·s."""
    sums = list(
        accumulate((a / weights[0] - b / weights[1] for a, b in zip(one, other, strict=True)), initial=0.0)
    )
    return max(sums) - min(sums)


@pytest.mark.parametrize(
    ("first", "second"),
    [({}, {}), ({}, {"max_a": 7.0}), ({"weight": 2.0}, {})],
    ids=["alike", "a small car", "twice the weight"],
)
def test_two_cars_that_exclude_each_other_get_alike(
    yard: Make, first: dict[str, float], second: dict[str, float]
) -> None:
    site = yard(bays=2, limit_a=10.0).connect()
    site.settle(2)
    site.plug(0, **first)
    site.plug(1, **second)
    one, other = taken(site, 6, 2)
    weights = (first.get("weight", 1.0), second.get("weight", 1.0))
    quantum_as = TURN_S * 10.0
    assert widest(one, other, weights) <= 2 * quantum_as
    got = sum(one) / weights[0], sum(other) / weights[1]
    assert min(got) > 0.75 * max(got)


def test_nobody_waits_longer_than_all_the_others_turns(yard: Make) -> None:
    site = yard(bays=3, limit_a=10.0).connect()
    site.settle(2)
    site.plug(0, 1, 2)
    for offers in taken(site, 3, 3):
        waits = "".join("1" if amperes else "0" for amperes in offers).strip("0").split("1")
        assert max(len(wait) for wait in waits) * STEP_S <= 2 * TURN_S + 60


def test_a_car_that_wants_nothing_hoards_no_credit(yard: Make) -> None:
    site = yard(bays=2, limit_a=10.0).connect()
    site.settle(2)
    site.plug(0).settle(5)
    site.plug(1).settle(600)
    assert site.bay(1).turn.owed_as > 0
    site.change(1, lambda bay: bay.wants(False))
    assert site.bay(1).turn.owed_as == 0
    site.settle(60)
    assert site.bay(1).turn.owed_as == 0


def test_credit_is_counted_only_while_somebody_waits(yard: Make) -> None:
    site = yard(bays=2, limit_a=32.0).connect()
    site.settle(2)
    site.plug(0, 1).settle(600)
    assert [site.bay(i).turn.owed_as for i in (0, 1)] == [0.0, 0.0]


def test_who_has_begun_is_not_displaced_by_priority_before_its_minimum_time(yard: Make) -> None:
    site = yard(bays=2, limit_a=10.0).connect()
    site.settle(2)
    site.plug(0).settle(2)
    began = site.bay(0).turn.running_since_s
    site.plug(1, priority=5)
    site.settle(began + MIN_ON_S - 1 - site.now_s)
    assert site.offered() == [10.0, None]
    site.settle(30)
    assert site.offered()[1] == 10.0


def test_a_cut_for_safety_needs_no_minimum_time(yard: Make) -> None:
    site = yard(bays=1, meter=BuildingMeter()).connect()
    site.settle(2)
    site.building(0.0)
    site.plug(0).settle(2)
    site.building(30.0)
    site.settle(1)
    assert site.offered() == [0.0]


def load(site: Any, amperes: float, seconds: int) -> None:
    for _ in range(seconds):
        site.building(amperes)
        site.settle(1)


def test_who_was_paused_is_not_let_in_again_at_once(yard: Make) -> None:
    site = yard(bays=1, meter=BuildingMeter()).connect()
    site.settle(2)
    load(site, 0.0, 2)
    site.plug(0)
    load(site, 0.0, 2)
    load(site, 30.0, 1)
    paused_s = site.now_s
    load(site, 0.0, int(MIN_OFF_S) - 2)
    assert not site.offered()[0]
    load(site, 0.0, 3)
    assert site.offered() == [32.0]
    assert site.now_s - paused_s <= MIN_OFF_S + 2


def test_to_start_a_minimum_and_an_ampere_must_have_been_free_for_a_minute(yard: Make) -> None:
    site = yard(bays=1, meter=BuildingMeter()).connect()
    load(site, 27.0, 3)
    site.plug(0)
    load(site, 27.0, 100)
    assert site.offered() == [None]
    load(site, 25.5, 100)  # 6.5 A are the minimum, but no ampere more
    assert site.offered() == [None]
    load(site, 25.0, 58)
    assert site.offered() == [None]
    load(site, 25.0, 8)
    assert site.offered() == [7.0]
    load(site, 26.0, 5)  # once it runs, the minimum is enough
    assert site.offered() == [6.0]


def test_a_cook_does_not_switch_a_car_on_and_off(yard: Make) -> None:
    """8 A for 40 s in every minute and a half, where 10 A are free: no start in between."""
    site = yard(bays=1, limit_a=32.0, meter=BuildingMeter()).connect()
    load(site, 30.0, 61)
    site.plug(0)
    for _ in range(20):
        load(site, 22.0, 50)
        load(site, 30.0, 40)
    assert site.live() == []
    load(site, 22.0, 70)
    assert site.offered() == [10.0]


def test_turns_outlive_a_change_of_the_records(yard: Make) -> None:
    site = yard(bays=2, limit_a=10.0).connect()
    site.settle(2)
    site.plug(0).settle(2)
    site.plug(1).settle(300)
    bay = site.bay(1)
    assert bay.turn.owed_as > 0
    assert bay.rewired(replace(bay.wiring, fallback_a=6.0), site.now_s).turn == bay.turn
