from csms.power.installation import LINES, Circuit, Installation, Line, System
from csms.power.sharing.currents import Network
from csms.power.steering.base_load import (
    BuildingMeter,
    BuildingReading,
    Counts,
    base_load,
    is_fresh,
    with_reserve,
)

L1, L2, L3 = LINES


def site(system: System = System.TN_400) -> Installation:
    return Installation(
        system=system,
        circuits=(
            Circuit(id="main", limit_a=dict.fromkeys(LINES, 63.0), base_a=dict.fromkeys(LINES, 40.0)),
            Circuit(id="shop", fed_from="main", limit_a=dict.fromkeys(LINES, 32.0), base_a={L1: 5.0}),
        ),
    )


def of_main(
    meter: BuildingMeter | None, line_a: dict[Line, float] | None, drawn: dict[Line, float] | None = None,
    *, age_s: float = 0.0, system: System = System.TN_400,
) -> dict[Line, float]:  # fmt: skip
    """Base load on the whole main circuit, as the allocator sees it."""
    place = site(system)
    found = base_load(
        place,
        {"main": meter} if meter else {},
        {"main": BuildingReading(line_a, 100.0)} if line_a is not None else {},
        {"main": drawn or {}},
        100.0 + age_s,
    )
    net = Network(place)
    return net.line_currents(net.usage(), found)["main"]


WORST = {L1: 45.0, L2: 40.0, L3: 40.0}
READ = {L1: 12.0, L2: 7.0, L3: 3.0}


def test_without_a_meter_or_reading_the_worst_case_stands() -> None:
    assert of_main(None, None) == WORST
    assert of_main(None, READ) == WORST
    assert of_main(BuildingMeter(), None) == WORST


def test_a_base_meter_counts_everything_below_it_once() -> None:
    assert of_main(BuildingMeter(), READ) == READ


def test_a_circuit_below_that_needs_more_than_the_meter_says_is_believed() -> None:
    assert of_main(BuildingMeter(), {**READ, L1: 2.0}) == {**READ, L1: 5.0}


def test_a_silent_meter_is_stale_after_three_periods_but_not_before_30_s() -> None:
    for period_s, last in ((1.0, 30.0), (10.0, 30.0), (20.0, 60.0)):
        meter = BuildingMeter(period_s=period_s)
        assert of_main(meter, READ, age_s=last) == READ
        assert of_main(meter, READ, age_s=last + 0.1) == WORST
        assert is_fresh(meter, BuildingReading(READ, 100.0), 100.0 + last)
        assert not is_fresh(meter, None, 100.0)


def test_a_line_that_is_not_reported_is_unknown_and_never_nothing() -> None:
    assert of_main(BuildingMeter(), {L1: 12.0, L3: 3.0}) == {L1: 12.0, L2: 40.0, L3: 3.0}


def test_our_own_draw_is_taken_off_a_total() -> None:
    total = BuildingMeter(Counts.TOTAL)
    assert of_main(total, {L1: 30.0, L2: 20.0, L3: 3.0}, {L1: 16.0, L2: 22.0}) == {L1: 14.0, L2: 0.0, L3: 3.0}


def test_a_total_in_the_delta_is_only_a_lower_bound_and_not_used() -> None:
    assert of_main(BuildingMeter(Counts.TOTAL), READ, system=System.IT_230) == WORST
    assert of_main(BuildingMeter(Counts.BASE), READ, system=System.IT_230) == READ


def test_a_reserve_for_an_unseen_step_ends_at_the_worst_case_and_is_only_where_a_meter_is() -> None:
    place = site()
    base = {"main": {L1: 12.0, L2: 36.0, L3: 41.0}, "shop": {L1: 5.0, L2: 0.0, L3: 0.0}}
    assert with_reserve(base, place, {"main"}, 8.0) == {
        "main": {L1: 20.0, L2: 40.0, L3: 41.0},
        "shop": {L1: 5.0, L2: 0.0, L3: 0.0},
    }
    # No worst case is configured for the shop's L2: all of the step.
    assert with_reserve(base, place, {"shop"}, 8.0)["shop"] == {L1: 5.0, L2: 8.0, L3: 8.0}
    assert with_reserve(base, place, {"main", "shop"}, 0.0) is base
