"""Line currents of whole garages against an unbalanced three-phase load flow (pandapower's runpp_3ph).

Every circuit is a bus behind a metre of cable, every car a load of constant power (230 V times its
amperes) between line and neutral (wye) or between lines (delta). The current into each circuit must be
what we say it carries, within 0.5 %.
"""

import math
from typing import Any

import pandapower as pp
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pandapower.pf.runpp_3ph import runpp_3ph

from csms.power.installation import LINES, Circuit, Installation, System
from csms.power.sharing.allocator import allocate
from csms.power.sharing.demand import Connection, Demand

PAIRS = [frozenset(LINES[:2]), frozenset(LINES[1:]), frozenset((LINES[2], LINES[0]))]
VOLTS = 230.0


def watts(site: Installation, demand: Demand, amperes: float) -> list[float]:
    """Power in each of the load's three places: lines to neutral, or L1-L2, L2-L3, L3-L1."""
    if not site.system.is_delta:
        return [VOLTS * amperes if line in demand.lines else 0.0 for line in LINES]
    if demand.connection is Connection.OPEN_DELTA:
        a, b, common = demand.lines
        used = [frozenset((a, common)), frozenset((b, common))]
        return [VOLTS * amperes if pair in used else 0.0 for pair in PAIRS]
    if len(demand.lines) == 2:
        return [VOLTS * amperes if pair == set(demand.lines) else 0.0 for pair in PAIRS]
    return [VOLTS * amperes / math.sqrt(3)] * 3


def flow(site: Installation, loads: list[tuple[str, list[float]]]) -> dict[str, list[float]]:
    """A into each circuit on its three lines, by the load flow."""
    delta = site.system.is_delta
    kilovolts = VOLTS / 1000 * (1.0 if delta else math.sqrt(3))
    net: Any = pp.create_empty_network(f_hz=50.0)
    grid = pp.create_bus(net, vn_kv=kilovolts)
    pp.create_ext_grid(net, grid, s_sc_max_mva=10_000, rx_max=0.1, x0x_max=1.0, r0x0_max=0.1)
    bus = {circuit.id: pp.create_bus(net, vn_kv=kilovolts) for circuit in site.circuits}
    cable = {
        circuit.id: pp.create_line_from_parameters(
            net,
            grid if circuit.fed_from is None else bus[circuit.fed_from],
            bus[circuit.id],
            length_km=0.001,
            r_ohm_per_km=0.32,
            x_ohm_per_km=0.08,
            c_nf_per_km=0.0,
            max_i_ka=1.0,
            r0_ohm_per_km=0.32,
            x0_ohm_per_km=0.08,
            c0_nf_per_km=0.0,
        )
        for circuit in site.circuits
    }
    for circuit_id, power in loads:
        a, b, c = (value / 1e6 for value in power)
        pp.create_asymmetric_load(
            net, bus[circuit_id], p_a_mw=a, p_b_mw=b, p_c_mw=c, type="delta" if delta else "wye"
        )
    runpp_3ph(net, numba=False)
    result = net.res_line_3ph
    return {
        circuit_id: [1000 * float(result.at[number, f"i_{phase}_from_ka"]) for phase in "abc"]
        for circuit_id, number in cable.items()
    }


@st.composite
def garages(draw: st.DrawFn, system: System) -> tuple[Installation, list[Demand]]:
    feeds = [None, "c0", draw(st.sampled_from(["c0", "c1"]))]
    amperes = st.integers(160, 1250).map(lambda tenths: tenths / 10)
    circuits = tuple(
        Circuit(id=f"c{i}", fed_from=feed, limit_a={line: draw(amperes) for line in LINES})
        for i, feed in enumerate(feeds)
    )
    demands = []
    for i in range(draw(st.integers(1, 9))):
        lines = tuple(draw(st.permutations(LINES)))[: draw(st.integers(2 if system.is_delta else 1, 3))]
        open_delta = system.is_delta and len(lines) == 3 and draw(st.booleans())
        demands.append(
            Demand(
                id=f"car-{i}",
                circuit=f"c{draw(st.integers(0, 2))}",
                lines=lines,
                connection=Connection.OPEN_DELTA if open_delta else None,
                max_a=draw(st.sampled_from([8.0, 16.0, 32.0])),
            )
        )
    return Installation(system=system, circuits=circuits), demands


def agree(site: Installation, demands: list[Demand]) -> None:
    found = allocate(site, demands)
    loads = [(d.circuit, watts(site, d, found.offers_a[d.id])) for d in demands if d.id in found.offers_a]
    currents = flow(site, loads)
    for circuit in site.circuits:
        ours = [found.line_a[circuit.id][line] for line in LINES]
        assert ours == pytest.approx(currents[circuit.id], rel=0.005, abs=0.02)


@settings(max_examples=12, deadline=None)
@given(garages(System.TN_400))
def test_star(garage: tuple[Installation, list[Demand]]) -> None:
    agree(*garage)


@settings(max_examples=12, deadline=None)
@given(garages(System.IT_230))
def test_delta(garage: tuple[Installation, list[Demand]]) -> None:
    agree(*garage)


def test_the_reference_sees_the_common_line_of_an_open_delta() -> None:
    """16 A on two pairs that share L3: 16, 16 and 27.71 A (sqrt(3) x 16)."""
    site = Installation(
        system=System.IT_230, circuits=(Circuit(id="main", limit_a=dict.fromkeys(LINES, 63.0)),)
    )
    found = flow(site, [("main", [0.0, VOLTS * 16, VOLTS * 16])])
    assert found["main"] == pytest.approx([16.0, 16.0, 16 * math.sqrt(3)], rel=0.005)
