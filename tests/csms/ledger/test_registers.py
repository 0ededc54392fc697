"""Registers to energy over time, and the order of sources where one is missing."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from csms.ledger.registers import Measured, Neighbour, SessionRow, measured
from csms.ledger.statement import Flag
from csms.metering.cutting import cut_energy
from csms.metering.series import CurvePoint

POWER_W = 22_000.0
ROW = SessionRow(
    id=1,
    station_id="bay",
    evse=1,
    token_id="tok",
    token_text="tok",
    member_id="a",
    known=True,
    started=0,
    ended=3600,
    arrived=3600,
    register_start_wh=1000,
    register_stop_wh=4000,
    energy_wh=3000,
    marked=False,
)


def test_a_plain_session_is_its_registers() -> None:
    found = measured(ROW, [(900, 1500), (1800, 2500), (3600, 4000), (4000, 4100)], POWER_W)
    assert found.points == ((0, 0), (900, 500), (1800, 1500), (3600, 3000))
    assert (found.base_wh, found.energy_wh, found.flags) == (1000, 3000, ())
    assert found.drawn(900) == (500, False)
    assert found.drawn(1350) == (1000, True)
    assert found.drawn(-1) == (0, False)
    assert found.drawn(9999) == (3000, False)


@settings(max_examples=60, deadline=None)
@given(
    gains=st.lists(st.integers(0, 3000), min_size=2, max_size=8),
    cuts=st.lists(st.integers(1, 7000), max_size=6, unique=True),
)
def test_cuts_are_those_of_the_metering_to_the_watt_hour(gains: list[int], cuts: list[int]) -> None:
    """One rule for all who cut: whole Wh, halves up (`csms.metering.cutting`)."""
    total, points = 0, [(0, 0)]
    for n, gain in enumerate(gains, 1):
        total += gain
        points.append((n * 900, total))
    end = points[-1][0]
    found = Measured(points=tuple(points), base_wh=0, end=end)
    origin = datetime(2026, 1, 1, tzinfo=UTC)

    def at(second: int) -> datetime:
        return origin + timedelta(seconds=second)

    pieces = cut_energy(
        [CurvePoint(at(second), wh, wh) for second, wh in points], at(0), at(end), [at(c) for c in cuts]
    )
    edges = [0, *sorted(c for c in cuts if c < end), end]
    ours = [found.drawn(high)[0] - found.drawn(low)[0] for low, high in pairwise(edges)]
    assert ours == [piece.energy_wh for piece in pieces]
    assert sum(ours) == found.energy_wh


def test_a_register_that_starts_again_is_a_mark_and_no_negative_energy() -> None:
    row = replace(ROW, marked=True, register_stop_wh=900, energy_wh=1900)
    found = measured(row, [(900, 2000), (1800, 10), (2700, 500)], POWER_W)
    assert found.energy_wh == 1900
    assert found.base_wh is None
    assert found.flags == (Flag.REGISTER_RESET,)
    assert [wh for _, wh in found.points] == sorted(wh for _, wh in found.points)


STOPLESS = replace(ROW, register_stop_wh=None, stop_seen=False, energy_wh=1500)
TOLD = [(900, 1500), (1800, 2500)]
NEXT = Neighbour("next_session", 9000, 4000)
ALIGNED = Neighbour("clock_aligned", 4500, 3900)
STATION = Neighbour("station_total", 4500, 3800)


@pytest.mark.parametrize(
    ("neighbours", "reason", "extra_wh"),
    [
        ([NEXT, ALIGNED, STATION], "next_session", 1500),
        ([ALIGNED, STATION], "clock_aligned", 1400),
        ([STATION], "station_total", 1300),
        ([], "", 0),
        ([Neighbour("next_session", 9000, 2000), ALIGNED], "clock_aligned", 1400),
        ([Neighbour("next_session", 9000, 9_000_000)], "", 0),
    ],
)
def test_a_missing_stop_is_taken_from_the_first_source_that_fits(
    neighbours: list[Neighbour], reason: str, extra_wh: int
) -> None:
    found = measured(STOPLESS, TOLD, POWER_W, neighbours)
    assert (found.reason, found.extra_wh, found.energy_wh) == (reason, extra_wh, 1500 + extra_wh)
    assert (Flag.ESTIMATED in found.flags) is bool(extra_wh)


def test_a_session_that_told_nothing_is_estimated_by_the_chargers_average() -> None:
    silent = replace(STOPLESS, register_start_wh=None, start_seen=False, energy_wh=0)
    found = measured(silent, [], POWER_W, [NEXT], average_w=7000)
    assert (found.reason, found.energy_wh) == ("average", 7000)
    assert measured(silent, [], POWER_W, [NEXT]).energy_wh == 0


def test_one_that_runs_is_what_it_told_so_far() -> None:
    running = replace(ROW, ended=None, register_stop_wh=None, energy_wh=1500)
    found = measured(running, TOLD, POWER_W, now=7200)
    assert (found.energy_wh, found.end, found.reason) == (1500, 7200, "")
