"""Parts sum to the whole, in energy and time, wherever a session is cut."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given, settings
from hypothesis import strategies as st

from csms.metering.cutting import Span, cut_energy, cut_time
from csms.metering.edges import grid, midnights
from csms.metering.series import CurvePoint

START = datetime(2026, 1, 31, 21, 0, tzinfo=UTC)
OSLO = ZoneInfo("Europe/Oslo")


def at(minutes: float) -> datetime:
    return START + timedelta(minutes=minutes)


def curve(*drawn: tuple[float, int]) -> tuple[CurvePoint, ...]:
    return tuple(CurvePoint(at(minute), 5_000_000 + wh, wh) for minute, wh in drawn)


def test_the_last_night_of_a_month() -> None:
    """22:00 to 02:00 over the month's end, the register read at midnight: 12.400 and 8.600 kWh."""
    points = curve((0, 0), (120, 12_400), (240, 21_000))
    pieces = cut_energy(points, at(0), at(240), midnights(at(0), at(240), OSLO))
    assert [(piece.from_wh, piece.energy_wh, piece.interpolated) for piece in pieces] == [
        (0, 12_400, False),
        (12_400, 8_600, False),
    ]
    assert [piece.end for piece in pieces] == [datetime(2026, 1, 31, 23, tzinfo=UTC), at(240)]


def test_without_a_reading_at_the_edge_it_says_so() -> None:
    pieces = cut_energy(curve((0, 0), (90, 9000), (150, 15_001)), at(0), at(150), [at(120)])
    assert [(piece.energy_wh, piece.interpolated) for piece in pieces] == [(12_001, True), (3000, True)]


def test_between_equal_readings_nothing_is_guessed() -> None:
    points = curve((0, 0), (60, 7000), (600, 7000))
    pieces = cut_energy(points, at(0), at(600), [at(120)])
    assert [(piece.energy_wh, piece.interpolated) for piece in pieces] == [(7000, False), (0, False)]


def test_values_from_outside_count_at_the_nearer_end() -> None:
    """A clock a minute off: the start and stop registers are the session's all the same."""
    points = curve((-1, 0), (50, 5000), (61, 6000))
    pieces = cut_energy(points, at(0), at(60), [at(-0.5), at(50), at(60.5)])
    assert [piece.energy_wh for piece in pieces] == [5000, 1000]
    assert cut_energy((), at(0), at(60), [at(10)])[0].energy_wh == 0
    (whole,) = cut_energy(curve((0, 0), (0, 70)), at(0), at(0), [at(0)])
    assert (whole.energy_wh, whole.interpolated) == (70, False)


def test_time_that_we_took_is_never_parking() -> None:
    pieces = cut_time(
        at(0),
        at(60),
        [at(30)],
        idle=[Span(at(20), at(50)), Span(at(45), at(55)), Span(at(58))],
        paused=[Span(at(-10), at(5)), Span(at(25), at(35))],
    )
    minutes = [
        tuple(each / timedelta(minutes=1) for each in (p.charging, p.parking, p.paused)) for p in pieces
    ]
    assert minutes == [(15, 5, 10), (3, 22, 5)]


ZONES = st.sampled_from([ZoneInfo(key) for key in ("Europe/Berlin", "America/St_Johns", "Asia/Kathmandu")])
DST = (datetime(2026, 3, 27, tzinfo=UTC), datetime(2026, 10, 23, tzinfo=UTC))
STARTS = st.builds(lambda day, s: day + timedelta(seconds=s), st.sampled_from(DST), st.integers(0, 400_000))
SECONDS = st.integers(0, 3 * 86_400)


@st.composite
def sessions(draw: st.DrawFn) -> tuple[datetime, datetime, tuple[CurvePoint, ...]]:
    start = draw(STARTS)
    length = draw(SECONDS)
    times = sorted(draw(st.lists(SECONDS, max_size=8)))
    total, points = 0, []
    for second in times:
        points.append(CurvePoint(start + timedelta(seconds=second - 60), total, total))
        total += draw(st.integers(0, 20_000))
    return start, start + timedelta(seconds=length), tuple(points)


@settings(max_examples=60)
@given(
    session=sessions(), zone=ZONES, more=st.lists(SECONDS, max_size=6), spans=st.lists(SECONDS, max_size=8)
)
def test_parts_sum_to_the_whole(
    session: tuple[datetime, datetime, tuple[CurvePoint, ...]],
    zone: ZoneInfo,
    more: Sequence[int],
    spans: Sequence[int],
) -> None:
    """Any cut, any zone, days on which summer time begins or ends."""
    start, end, points = session
    cuts = [
        *midnights(start, end, zone),
        *grid(start, end, 15),
        *(start + timedelta(seconds=s) for s in more),
    ]
    pieces = cut_energy(points, start, end, cuts)
    assert sum(piece.energy_wh for piece in pieces) == (points[-1].energy_wh if points else 0)
    assert all(piece.energy_wh >= 0 for piece in pieces)
    assert [piece.start for piece in pieces[1:]] == [piece.end for piece in pieces[:-1]]
    coarse = cut_energy(points, start, end, midnights(start, end, zone))
    drawn = {piece.start: piece.from_wh for piece in pieces}
    assert {piece.start: piece.from_wh for piece in coarse}.items() <= drawn.items(), "a finer cut moves none"

    marks = [Span(start + timedelta(seconds=s), start + timedelta(seconds=2 * s)) for s in spans]
    whole = cut_time(start, end, (), idle=marks[::2], paused=marks[1::2])[0]
    timed = cut_time(start, end, cuts, idle=marks[::2], paused=marks[1::2])
    assert whole.charging + whole.parking + whole.paused == end - start
    for name in ("charging", "parking", "paused"):
        assert sum((getattr(piece, name) for piece in timed), timedelta(0)) == getattr(whole, name)
