"""Line currents in the delta: the closed forms are the law of cosines on phasors 60 degrees apart."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from csms.power.installation import LINES, Circuit, Installation, Line, System
from csms.power.sharing.currents import MissingLine, Network, level_at, phasors
from csms.power.sharing.demand import Connection, Load

L1, L2, L3 = LINES
AMPERES = st.floats(0, 80)


def network(system: System = System.IT_230, **more: float | bool) -> Network:
    circuits = (
        Circuit(id="main", limit_a=dict.fromkeys(LINES, 100.0)),
        Circuit(id="board", fed_from="main", limit_a=dict.fromkeys(LINES, 40.0)),
    )
    return Network(Installation(system=system, circuits=circuits, **more))  # type: ignore[arg-type]


def currents(net: Network, *loads: Load) -> list[float]:
    found = net.line_currents(net.usage(loads))["main"]
    return [found[line] for line in LINES]


def pair(lines: tuple[Line, Line], amperes: float) -> Load:
    return Load("main", lines, Connection.PAIR, amperes)


@given(a=AMPERES, b=AMPERES, c=AMPERES)
def test_pair_currents_add_by_the_law_of_cosines(a: float, b: float, c: float) -> None:
    found = currents(network(), pair((L1, L2), a), pair((L2, L3), b), pair((L3, L1), c))
    assert found == pytest.approx(
        [
            math.sqrt(a * a + c * c + a * c),
            math.sqrt(a * a + b * b + a * b),
            math.sqrt(b * b + c * c + b * c),
        ],
        abs=1e-9,
    )


@given(a=AMPERES, b=AMPERES, c=AMPERES)
def test_a_balanced_load_lies_midway(a: float, b: float, c: float) -> None:
    found = currents(
        network(), pair((L1, L2), a), pair((L3, L1), b), Load("main", LINES, Connection.BALANCED, c)
    )
    expected = math.sqrt(a * a + b * b + a * b + c * c + math.sqrt(3) * c * (a + b))
    assert found[0] == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("lines", [(L1, L2, L3), (L2, L3, L1), (L3, L1, L2), (L2, L1, L3)])
def test_an_open_delta_loads_its_common_line_with_root_three(lines: tuple[Line, ...]) -> None:
    # A three-phase car on a 230 V delta: at 16 A of the pilot 27.7 A flow on the common line.
    found = currents(network(), Load("main", lines, Connection.OPEN_DELTA, 16.0))
    by_line = dict(zip(LINES, found, strict=True))
    assert [by_line[line] for line in lines] == pytest.approx([16, 16, 27.713], abs=0.001)


def test_the_order_of_a_pair_does_not_matter() -> None:
    assert currents(network(), pair((L1, L2), 16), pair((L2, L1), 16)) == pytest.approx([32, 32, 0])


@pytest.mark.parametrize("connection", [Connection.PAIR, Connection.BALANCED, Connection.OPEN_DELTA])
def test_all_phasors_of_a_line_are_within_60_degrees(connection: Connection) -> None:
    """Why filling is exact in the delta: more current in a car is more current in the line."""
    every: dict[Line, list[complex]] = {line: [] for line in LINES}
    orders = [(L1, L2, L3), (L2, L3, L1), (L3, L1, L2)]
    for kind in (Connection.PAIR, connection):
        for order in orders:
            lines = order[:2] if kind is Connection.PAIR else order
            for line, value in phasors(kind, lines).items():
                every[line].append(value / abs(value))
    for values in every.values():
        for one in values:
            for other in values:
                assert (one * other.conjugate()).real >= 0.5 - 1e-9


def test_the_margin_and_plain_addition_count_more() -> None:
    two = (pair((L1, L2), 16), pair((L2, L3), 16))
    assert currents(network(delta_margin=0.08), *two)[1] == pytest.approx(27.713 * 1.08, abs=0.001)
    assert currents(network(plain_addition=True), *two)[1] == pytest.approx(32)


def test_the_margin_is_not_for_the_star() -> None:
    net = network(System.TN_400, delta_margin=0.08)
    assert currents(net, Load("main", (L1,), Connection.LINES, 16))[0] == 16


def test_a_load_flows_through_every_circuit_above() -> None:
    net = network(System.TN_400)
    found = net.line_currents(net.usage([Load("board", (L2,), Connection.LINES, 10)]))
    assert found["board"][L2] == found["main"][L2] == 10
    assert found["main"][L1] == 0


def test_base_loads_add_up_towards_the_supply() -> None:
    net = network(System.TN_400)
    base = {"main": {L1: 5.0}, "board": {L1: 3.0, L2: 1.0}}
    heads = dict(zip([net.row_name(row) for row in range(8)], net.heads(base), strict=True))
    assert heads["main", L1] == 92
    assert heads["main", L2] == 99
    assert heads["board", L1] == 37
    assert net.line_currents(net.usage(), base)["main"] == {L1: 8.0, L2: 1.0, L3: 0.0}


def test_a_cap_counts_watts_and_the_base_loads_power() -> None:
    main = Circuit(id="main", limit_a=dict.fromkeys(LINES, 63.0), cap_w=23_000.0, base_a={L1: 10.0})
    net = Network(Installation(system=System.TN_400, circuits=(main,)))
    heads, usage = net.heads(), net.usage([Load("main", LINES, Connection.LINES, 10.0)])
    rows = {net.row_name(row): row for row in range(4)}
    cap = rows["main", None]
    assert heads[cap] == 23_000 - 2_300
    assert usage[cap] == 6_900


def test_a_line_that_is_not_there_is_named() -> None:
    circuits = (
        Circuit(id="main", limit_a={L1: 63.0}),
        Circuit(id="board", fed_from="main", limit_a={L1: 20.0}),
    )
    net = Network(Installation(system=System.TN_400, circuits=circuits))
    assert net.path("board", (L1, L2)) == MissingLine("board", L2)
    with pytest.raises(KeyError, match="board has no L2"):
        net.usage([Load("board", (L2,), Connection.LINES, 1.0)])


UNIT = st.floats(0, math.pi / 3).map(lambda angle: complex(math.cos(angle), math.sin(angle)))


@given(first=UNIT, second=UNIT, used=st.floats(0, 50), slope=st.floats(0.01, 50), more=st.floats(0.001, 100))
def test_level_at_is_where_the_row_is_full(
    first: complex, second: complex, used: float, slope: float, more: float
) -> None:
    head = used + more
    level = level_at(used * first, slope * second, head)
    assert abs(used * first + level * slope * second) == pytest.approx(head, rel=1e-9)


def test_level_at_without_slope_or_room() -> None:
    assert level_at(5.0, 0.0, 10.0) == math.inf
    assert level_at(-5.0 + 0j, -2.0 + 0j, 10.0) == 2.5  # the far end of a pair: the phasor is -1
    assert level_at(5.0, 1.0, math.inf) == math.inf
    assert level_at(12.0, 1.0, 10.0) < 0
    assert level_at(12.0 + 1j, 1.0, 10.0) < 0
    assert level_at(1j, 1.0, -3.0) < 0
    ascending = [level_at(2.0 + 1j, 1.0 + 0.2j, head) for head in (3.0, 4.0, 8.0)]
    assert all(a < b for a, b in pairwise(ascending))
