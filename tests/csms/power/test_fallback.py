from datetime import time
from typing import Any

from csms.power.caps import CapWindow
from csms.power.fallback import Carried, Overload, carried_in_silence, overloads_in_silence
from csms.power.installation import LINES, Circuit, Evse, Installation, Line, System, Wiring

L1, L2, L3 = LINES


def site(*wirings: Wiring, system: System = System.TN_400, base_a: float = 30.0, **more: Any) -> Installation:
    main = Circuit(id="main", limit_a=dict.fromkeys(LINES, 63.0), base_a=dict.fromkeys(LINES, base_a), **more)
    board = Circuit(id="board", fed_from="main", limit_a=dict.fromkeys(LINES, 20.0))
    return Installation(system=system, circuits=(main, board), wirings=wirings)


def bays(count: int, circuit: str = "main", **more: Any) -> list[Wiring]:
    return [Wiring(evse=Evse(f"{circuit}-{i}", 1), circuit=circuit, **more) for i in range(count)]


def test_fallbacks_and_the_worst_base_load_must_fit_the_supply() -> None:
    assert overloads_in_silence(site(*bays(5, fallback_a=6.0))) == ()
    found = overloads_in_silence(site(*bays(6, fallback_a=6.0)))
    assert found == tuple(Overload("main", line, 66.0, 63.0) for line in LINES)
    assert str(found[0]) == "main L1: fallbacks and base load make 66 A of 63 A"


def test_every_circuit_and_line_is_looked_at() -> None:
    wirings = bays(4, "board", fallback_a=6.0, rotation=(L2,))
    assert overloads_in_silence(site(*wirings)) == (Overload("board", L2, 24.0, 20.0),)


def test_a_station_that_keeps_nothing_counts_with_its_rating() -> None:
    wirings = bays(2, fallback_a=0.0, keeps_profiles=False, max_current_a=16.0)
    assert overloads_in_silence(site(*wirings)) == ()
    assert len(overloads_in_silence(site(*wirings, *bays(1, "board", fallback_a=6.0)))) == 3


def test_a_cap_counts_too() -> None:
    found = overloads_in_silence(site(*bays(2, fallback_a=6.0), base_a=0.0, cap_w=8_000.0))
    assert found == (Overload("main", None, 8280.0, 8000.0),)
    assert str(found[0]) == "main (cap): fallbacks and base load make 8280 W of 8000 W"


def test_in_the_delta_amperes_are_added_as_the_pair_is_not_known() -> None:
    """Three pairs at 12 A make 20.8 A by phasors, but all three cars may use the same lines."""
    rotations: list[tuple[Line, ...]] = [(L1, L2), (L2, L3), (L3, L1)]
    wirings = [
        Wiring(evse=Evse(f"b{i}", 1), circuit="board", fallback_a=12.0, rotation=rotation)
        for i, rotation in enumerate(rotations)
    ]
    found = overloads_in_silence(site(*wirings, system=System.IT_230))
    assert found == tuple(Overload("board", line, 24.0, 20.0) for line in LINES)


def test_what_silence_carries_is_told_of_every_line_and_cap() -> None:
    """By hand: 30 A of building and 2 x 6 A on L1 of the supply; (90 A + 2 x 6 A) x 230 V for its cap."""
    wirings = bays(2, "board", fallback_a=6.0, rotation=(L1,))
    found = {(row.circuit, row.line): row for row in carried_in_silence(site(*wirings, cap_w=24_000.0))}
    assert found["main", L1] == Carried("main", L1, 30.0, 12.0, 63.0)
    assert found["main", L2] == Carried("main", L2, 30.0, 0.0, 63.0)
    assert found["main", None] == Carried("main", None, 20_700.0, 2_760.0, 24_000.0)
    assert found["board", L1] == Carried("board", L1, 0.0, 12.0, 20.0)
    assert len(found) == 7
    assert all(row.fits for row in found.values())
    assert found["main", L1].together == 42.0


def test_the_lowest_cap_of_the_day_counts() -> None:
    """Two stations at 3 x 6 A x 230 V: 8280 W."""
    windows = (CapWindow(time(7), time(9), 8_300.0), CapWindow(time(17), time(20), 8_200.0))
    yard = site(*bays(2, fallback_a=6.0), base_a=0.0, cap_w=9_000.0, cap_windows=windows)
    assert overloads_in_silence(yard) == (Overload("main", None, 8280.0, 8200.0),)
    assert overloads_in_silence(site(*bays(2, fallback_a=6.0), base_a=0.0, cap_windows=windows[:1])) == ()
