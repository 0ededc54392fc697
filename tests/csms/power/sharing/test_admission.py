from csms.power.installation import LINES, Circuit, Installation, Line, System
from csms.power.sharing.admission import admit, service_order
from csms.power.sharing.currents import MissingLine, Network, Path
from csms.power.sharing.demand import Demand

L1, L2, L3 = LINES


def demand(id: str, **more: object) -> Demand:
    return Demand(**{"id": id, "circuit": "main", "lines": LINES, **more})  # type: ignore[arg-type]


def served(*demands: Demand) -> list[str]:
    return [demands[i].id for i in service_order(demands)]


def test_priority_then_turn_then_wait_then_energy_then_id() -> None:
    cars = (
        demand("e"),
        demand("d", energy_served_wh=10.0),
        demand("c", waiting_s=60.0),
        demand("b", keeps_turn=True),
        demand("a", priority=1),
        demand("f"),
    )
    assert served(*cars) == ["a", "b", "c", "e", "f", "d"]
    assert served(*reversed(cars)) == served(*cars)


def path(net: Network, *lines: Line) -> Path:
    found = net.path("main", lines)
    assert not isinstance(found, MissingLine)
    return found


def test_who_does_not_fit_does_not_block_the_next() -> None:
    net = Network(
        Installation(
            system=System.TN_400, circuits=(Circuit(id="main", limit_a={L1: 13.0, L2: 5.0, L3: 13.0}),)
        )
    )
    usage = net.usage()
    paths = [path(net, L1, L2, L3), path(net, L1), path(net, L3), path(net, L1), path(net, L1)]
    admitted, refused = admit(net.heads(), usage, range(5), paths, [6.0] * 5)
    assert admitted == [1, 2, 3]
    assert {i: net.row_name(row) for i, row in refused.items()} == {0: ("main", L2), 4: ("main", L1)}
    assert [abs(value) for value in usage[:3]] == [12.0, 0.0, 6.0]


def test_the_row_that_lacks_most_is_named_also_when_it_is_a_cap() -> None:
    main = Circuit(id="main", limit_a=dict.fromkeys(LINES, 63.0), cap_w=3_000.0)
    net = Network(Installation(system=System.TN_400, circuits=(main,)))
    # Three lines at 6 A need 4140 W.
    _, refused = admit(net.heads(), net.usage(), [0], [path(net, *LINES)], [6.0])
    assert net.row_name(refused[0]) == ("main", None)


def test_a_car_without_a_minimum_does_not_slip_onto_a_row_that_is_over() -> None:
    """The quick way for "all fit" must see the same as the look at each car."""
    paths: list[Path] = [((0, 1.0),), ((1, 1.0),)]
    usage: list[complex] = [11.0, 0.0]
    assert admit([10.0, 10.0], usage, [0, 1], paths, [0.0, 6.0]) == ([1], {0: 0})
    assert usage == [11.0, 6.0]
    usage = [4.0, 4.0]
    assert admit([10.0, 10.0], usage, [1, 0], paths, [6.0, 6.0]) == ([1, 0], {})
    assert usage == [10.0, 10.0]
