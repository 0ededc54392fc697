"""Sessions cut at edges: the pieces are the whole, whatever the edges."""

from datetime import UTC, datetime, timedelta
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from api.deps import Central
from api.reports.pieces import Charged, charged, crossing, cut, overlapping, running, seconds
from tests.api.reports.sessions import HOUR
from tests.api.reports.sessions import charged as put
from tests.csms.yard import BAY_1, BAY_2, FLAT_12, SITE, build_yard


def session(**more: Any) -> Charged:
    values: dict[str, Any] = {
        "id": 1,
        "station_id": BAY_1,
        "evse": 1,
        "token_id": None,
        "member_id": None,
        "verdict": "accepted",
        "open": False,
        "marked": False,
        "currency": "EUR",
        "excl": 100,
        "incl": 121,
        "energy_wh": 1_000,
        "started_s": 1_000.0,
        "ended_s": 2_000.0,
        "points": ((1_000.0, 500), (1_500.0, 1_300), (2_000.0, 1_500)),
        **more,
    }
    return Charged(**values)


def test_energy_is_linear_between_the_registers_around_an_edge() -> None:
    pieces = list(cut(session(), [0, 1_250, 1_500, 3_000]))
    assert [(p.place, p.energy_wh, p.excl, p.incl, p.estimated) for p in pieces] == [
        (0, 400, 40, 48, True),
        (1, 400, 40, 49, True),
        (2, 200, 20, 24, False),
    ]


def test_what_lies_outside_is_in_none() -> None:
    assert [piece.energy_wh for piece in cut(session(), [1_500, 1_750])] == [100]
    assert list(cut(session(), [5_000, 6_000])) == []
    assert list(cut(session(), [0, 500])) == []


def test_without_registers_the_energy_is_spread_evenly() -> None:
    pieces = list(cut(session(points=()), [1_000, 1_100, 2_000]))
    assert [(piece.energy_wh, piece.estimated) for piece in pieces] == [(100, True), (900, True)]


def test_a_session_of_one_moment_or_of_no_energy_is_where_it_began() -> None:
    moment = session(ended_s=1_000.0, points=())
    assert [(p.place, p.energy_wh, p.excl) for p in cut(moment, [0, 1_000, 2_000])] == [(1, 1_000, 100)]
    fee = session(energy_wh=0, points=())
    assert [(p.place, p.energy_wh, p.excl) for p in cut(fee, [0, 1_500, 3_000])] == [(0, 0, 100)]


def test_a_register_that_begins_anew_or_jumps_is_scaled_to_what_counts() -> None:
    reset = session(points=((1_000.0, 9_000), (1_500.0, 100), (2_000.0, 600)))
    assert running(reset)[-1] == (2_000.0, 1.0)
    assert [piece.energy_wh for piece in cut(reset, [1_000, 1_500, 2_000])] == [0, 1_000]


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0, 3_000), st.integers(0, 5_000)), max_size=6),
    st.lists(st.integers(-100, 3_100), min_size=1, max_size=8, unique=True),
    st.integers(0, 10**7),
    st.integers(-(10**5), 10**5),
)
def test_the_pieces_are_the_whole(
    points: list[tuple[float, int]], inner: list[int], energy_wh: int, excl: int
) -> None:
    one = session(points=tuple(sorted(points)), energy_wh=energy_wh, excl=excl, incl=None)
    edges = [-1e9, *map(float, sorted(inner)), 1e9]
    pieces = list(cut(one, edges))
    assert sum(piece.energy_wh for piece in pieces) == energy_wh
    assert sum(piece.excl for piece in pieces) == sum(piece.incl for piece in pieces) == excl
    assert all(piece.energy_wh >= 0 for piece in pieces)
    assert [piece.place for piece in pieces] == sorted({piece.place for piece in pieces})


async def test_registers_of_many_sessions_come_with_them(central: Central) -> None:
    await build_yard(central.database)
    start = datetime(2026, 11, 3, 10, tzinfo=UTC)
    registers = [(n / 4, 1_000 * n) for n in range(1, 9)]
    first = await put(
        central.database, BAY_1, FLAT_12, start, 2, 8_000, (80, 96), registers=registers, begin_wh=0
    )
    bare = await put(central.database, BAY_2, None, start + HOUR, 1, 500)
    runs = await put(central.database, BAY_2, None, start + 5 * HOUR, None, 700, registers=[(0, 1)])
    edges = [start, start + 8 * HOUR]
    wanted = overlapping(SITE, edges[0], edges[1])
    now = start + 9 * HOUR
    async with central.database.read() as connection:
        found = [each async for each in charged(connection, wanted, now, 3600, 0)]
        cut_ones = [
            each.id async for each in charged(connection, wanted & crossing(edges[0], edges[1]), now, 3600, 0)
        ]
    assert [each.id for each in found] == [first, bare, runs]
    at = start.timestamp()
    # Of each hour the first and the last register; the session's own at both ends.
    assert found[0].points == (
        *((at, 0), (at + 900, 1_000), (at + 2700, 3_000)),
        *((at + 3600, 4_000), (at + 6300, 7_000), (at + 7200, 8_000), (at + 7200, 8_000)),
    )
    assert (found[0].excl, found[0].incl, found[1].points) == (80, 96, ())
    assert (found[2].open, found[2].ended_s) == (True, now.timestamp())
    assert cut_ones == [runs]
    assert seconds([start]) == [at]


async def test_what_overlaps(central: Central) -> None:
    await build_yard(central.database)
    start = datetime(2026, 11, 3, tzinfo=UTC)
    cases = {(-2, 1): False, (-2, 3): True, (1, 1): True, (23, 5): True, (24, 1): False, (0, 0): True}
    numbers = {
        await put(central.database, BAY_1, None, start + start_h * HOUR, hours, 1): inside
        for (start_h, hours), inside in cases.items()
    }
    wanted = overlapping(SITE, start, start + timedelta(days=1))
    async with central.database.read() as connection:
        found = {each.id async for each in charged(connection, wanted, start, 3600, 0)}
    assert found == {number for number, inside in numbers.items() if inside}
