"""Running sessions in memory: the short way, and when it is not taken."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from csms.metering.series import Meter, Point, Source
from csms.sessions.live import Live, LiveStation, Standing, live_of
from csms.sessions.session import Mark, Session, State
from csms.stations.model import ChargingState, Reading, ReadingContext

AT = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)
POWER_W = 22_080.0
SESSION = Session(
    id=7,
    station_id="YARD-01",
    evse=1,
    transaction_id="7",
    started_at=AT,
    arrived_at=AT,
    state=State.CHARGING,
    charging=ChargingState.CHARGING,
    last_sequence=3,
)
METER = Meter().step(Point(AT, 1000, Source.START), POWER_W)


def live(session: Session = SESSION, meter: Meter = METER) -> Live:
    return live_of(session, meter, None, POWER_W)


def reading(minutes: float, register_wh: int | None = None, power_w: float | None = None) -> Reading:
    return Reading(at=AT + timedelta(minutes=minutes), register_wh=register_wh, power_w=power_w)


def test_newer_readings_go_the_short_way() -> None:
    standing = live().after([reading(2, 1100), reading(1, 1050), reading(3)], None)
    assert standing is not None
    assert (standing.meter.energy_wh, standing.newest_at) == (100, AT + timedelta(minutes=3))
    assert standing.last_sequence == 3


def test_two_readings_of_one_instant_with_one_value_are_one() -> None:
    suspect = live(meter=METER.step(Point(AT + timedelta(minutes=1), 0), POWER_W))
    twice = suspect.after([reading(2, 5_000_000), reading(2, 5_000_000)], None)
    assert twice is not None
    assert twice.meter.energy_wh == 0


def test_what_is_not_newer_or_odd_goes_the_long_way() -> None:
    assert live().after([reading(0, 1000)], None) is None
    assert live().after([reading(1, 1100), reading(0, 1000)], None) is None
    assert live().after([replace(reading(1, 1100), context=ReadingContext.END)], None) is None
    suspect = live(meter=METER.step(Point(AT + timedelta(minutes=1), 0), POWER_W))
    assert suspect.standing.newest_at == AT + timedelta(minutes=1)
    assert suspect.after([reading(2, 1100)], None) is None


def test_numbers_in_a_row_go_the_short_way() -> None:
    standing = live().after([reading(1, 1100)], 4)
    assert standing is not None
    assert standing.last_sequence == 4
    assert live().after([reading(1, 1100)], 5) is None
    assert live().after([reading(1, 1100)], 3) is None
    gap = live(replace(SESSION, marks={Mark.SEQUENCE_GAP: [[0, 1], [3, 3]]}))
    assert gap.after([reading(1, 1100)], 4) is None


def test_the_first_energy_is_news() -> None:
    silent = live(replace(SESSION, charging=ChargingState.IDLE, state=State.STARTED))
    assert silent.after([reading(1, 1001)], None) is None
    assert silent.after([reading(1, 1000, 3700.0)], None) is None
    assert silent.after([reading(1, 1000, 20.0)], None) is not None
    assert not live().seems_to_start([reading(1, 1001)])


def test_a_station_finds_the_owner_of_readings() -> None:
    one = live()
    other = live(replace(SESSION, id=8, transaction_id="8", evse=2, started_at=AT + timedelta(minutes=9)))
    station = LiveStation()
    station.put(one)
    assert station.owner("7", None, AT) is one
    assert station.owner("4711", 1, AT) is None
    assert station.owner("-1", None, AT) is one
    assert station.owner("0", 0, AT) is one
    assert station.owner(None, 0, AT) is None
    assert station.owner(None, None, AT) is one
    assert station.owner(None, 1, AT - timedelta(seconds=1)) is None
    station.put(other)
    assert station.owner(None, None, AT) is None
    assert station.owner(None, 1, AT) is one
    assert station.owner(None, 2, AT) is None
    assert station.owner(None, 3, AT) is None
    again = live()
    station.put(again)
    assert station.by_transaction["7"] is again
    station.drop(7)
    assert list(station.by_transaction) == ["8"]


def test_news_says_where_the_session_stands() -> None:
    session = live()
    session.standing = Standing(replace(METER, energy_wh=55), AT, 4)
    news = session.news(reading(1), began=True)
    assert (news.session_id, news.energy_wh, news.state, news.began) == (7, 55, State.CHARGING, True)
    assert news.reading == reading(1)


def test_without_an_id_of_its_own_it_is_known_by_ours() -> None:
    assert live(replace(SESSION, transaction_id=None)).transaction_id == "7"
    late = live_of(SESSION, METER, AT + timedelta(hours=1), POWER_W)
    assert late.standing.newest_at == AT + timedelta(hours=1)
