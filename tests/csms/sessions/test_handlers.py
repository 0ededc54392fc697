"""Station says, we answer: transactions as they come, on both databases.

The nasty ones are behaviours that OCPP's texts and public issue threads describe: repeats (OCPP
1.6 edition 2, section 3.7.1), transaction id -1 (errata 3.18), samples after the stop, replays out
of order (OCPP 2.0.1 part 6, TC_E_31), gaps in numbers (TC_E_53), registers that fall (1.6, 7.31).
"""

import asyncio
from datetime import UTC, datetime, timedelta

import pytest

from csms.errors import OurFault
from csms.metering.series import Flag
from csms.sessions.session import Mark, State
from csms.stations.events import MetersReported
from csms.stations.model import (
    ChargingState,
    EvseStatus,
    Reading,
    ReadingContext,
    StopReason,
    TokenKind,
    TokenRef,
    Verdict,
)
from csms.stations.questions import TransactionAnswer, TransactionStep
from tests.csms.conversation import Conversation
from tests.csms.yard import BAY_1, BAY_2, CARD_7, FLAT_12, SITE, facts

BEGAN, UPDATED, ENDED = TransactionStep.BEGAN, TransactionStep.UPDATED, TransactionStep.ENDED


async def test_a_session_from_start_to_stop(talk: Conversation) -> None:
    answer = await talk.starts(0, 120_000)
    assert answer.token is not None
    assert answer.token.verdict is Verdict.ACCEPTED
    tx = answer.transaction_id
    await talk.meters(5, 120_600, tx, power_w=7200.0)
    await talk.meters(10, 121_200, tx, power_w=7200.0)
    running = await talk.one()
    assert (running.state, running.energy_wh, running.member_id) == (State.CHARGING, 1200, FLAT_12)
    assert (await talk.stops(12, tx, 121_433, reason=StopReason.EV_DISCONNECTED)).transaction_id == tx
    session = await talk.one()
    assert (session.state, session.energy_wh) == (State.ENDED, 1433)
    assert (session.register_start_wh, session.register_stop_wh) == (120_000, 121_433)
    assert (session.started_at, session.ended_at) == (talk.at(0), talk.at(12))
    assert (session.stop_reason, session.marks, session.site_id) == (StopReason.EV_DISCONNECTED, {}, SITE)
    assert tx == str(session.id) == session.transaction_id
    assert [fact.topic for fact in await facts(talk.database, "session.")] == [
        "session.started",
        "session.ended",
    ]
    states = [(news.state, news.energy_wh, news.began) for news in talk.news]
    assert states == [
        (State.STARTED, 0, True),
        (State.CHARGING, 600, False),
        (State.CHARGING, 1200, False),
        (State.ENDED, 1433, False),
    ]


async def test_readings_of_a_running_session_cost_no_query(
    talk: Conversation, monkeypatch: pytest.MonkeyPatch
) -> None:
    tx = (await talk.starts(0, 0)).transaction_id
    await talk.meters(1, 100, tx)

    def forbidden(*_: object, **__: object) -> None:
        raise AssertionError("a query")

    monkeypatch.setattr(talk.database, "read", forbidden)
    monkeypatch.setattr(talk.database.writer, "run", forbidden)
    for minute in range(2, 6):
        await talk.meters(minute, 100 * minute, tx)
    monkeypatch.undo()
    session = await talk.one()
    assert (session.energy_wh, session.register_last_wh, session.register_last_at) == (500, 500, talk.at(5))
    assert await talk.registers(session.id) == [100, 200, 300, 400, 500]


async def test_a_start_said_twice_is_one_session_with_one_answer(talk: Conversation) -> None:
    first = await talk.starts(0, 120_000)
    await talk.meters(3, 120_500, first.transaction_id)
    again = await talk.starts(0, 120_000)
    talk.restart()
    once_more = await talk.starts(0, 120_000, token=TokenRef("04:a1:b2:c3:d4"))
    assert first == again == once_more
    assert (await talk.one()).energy_wh == 500
    # Another moment is another session, and the first is over: one EVSE, one car.
    other = await talk.starts(30, 121_000)
    assert other.transaction_id != first.transaction_id
    old, new = await talk.all()
    assert (old.state, old.ended_at, new.state) == (State.CLOSED, talk.at(3), State.STARTED)
    assert Mark.NO_STOP_SEEN in old.marks
    assert other.token is not None
    assert other.token.verdict is Verdict.ACCEPTED


async def test_a_stop_that_comes_after_all_ends_a_closed_session(talk: Conversation) -> None:
    first = await talk.starts(0, 120_000)
    await talk.starts(30, 122_000)
    await talk.stops(20, first.transaction_id, 121_500)
    old, new = await talk.all()
    assert (old.state, old.energy_wh, old.ended_at, old.marks) == (State.ENDED, 1500, talk.at(20), {})
    assert new.open


async def test_a_refused_start_is_a_fact_all_the_same(talk: Conversation) -> None:
    answer = await talk.starts(0, 5, token=TokenRef("DEAD BEEF"))
    assert answer.token is not None
    assert answer.token.verdict is Verdict.UNKNOWN
    session = await talk.one()
    assert (session.open, session.verdict, session.verdict_reason) == (True, "unknown", "unknown_token")
    assert (session.member_id, session.token_text) == (None, "DEAD BEEF")
    await talk.stops(1, answer.transaction_id, 9, reason=StopReason.DEAUTHORIZED)
    assert (await talk.one()).energy_wh == 4
    assert [f.topic for f in await facts(talk.database, "token.")] == ["token.unknown"]


async def test_one_card_cannot_charge_twice_at_once(talk: Conversation) -> None:
    first = await talk.starts(0, 5)
    second = await talk.starts(1, 5, station=BAY_2)
    assert second.token is not None
    assert second.token.verdict is Verdict.CONCURRENT
    repeat = await talk.starts(0, 5)
    assert repeat == first
    await talk.stops(2, first.transaction_id, 10)
    # The repeat of the refused start is refused again, whatever has changed since.
    assert await talk.starts(1, 5, station=BAY_2) == second
    third = await talk.starts(3, 5, station=BAY_2)
    assert third.token is not None
    assert third.token.verdict is Verdict.ACCEPTED


async def test_a_stop_said_twice_counts_once_and_another_one_is_a_conflict(talk: Conversation) -> None:
    tx = (await talk.starts(0, 1000)).transaction_id
    for _ in range(2):
        assert await talk.stops(10, tx, 2500) == TransactionAnswer(tx)
    before = await talk.one()
    assert (before.energy_wh, before.marks) == (1500, {})
    await talk.stops(11, tx, 2600)
    after = await talk.one()
    assert (after.energy_wh, after.ended_at) == (1500, talk.at(10))
    assert after.marks[Mark.STOP_CONFLICT]["register_wh"] == 2600


@pytest.mark.parametrize("transaction_id", [None, "", "0", "-1", "2147483647", "77777"])
async def test_a_stop_without_a_true_id_ends_the_only_session_it_can(
    talk: Conversation, transaction_id: str | None
) -> None:
    tx = (await talk.starts(0, 1000)).transaction_id
    for _ in range(2):
        answer = await talk.stops(10, transaction_id, 2500, token=TokenRef("04 a1 b2 c3 d4"))
        assert answer.token is not None
    session = await talk.one()
    assert (session.state, session.energy_wh, session.transaction_id) == (State.ENDED, 1500, tx)
    assert Mark.MATCHED_STOP in session.marks
    assert (await talk.sessions.orphans()).items == ()


async def test_a_stop_in_doubt_ends_nothing_and_is_kept(talk: Conversation) -> None:
    first = await talk.starts(0, 1000)
    await talk.starts(1, 1000, evse=2, token=TokenRef(CARD_7))
    for _ in range(2):
        assert (await talk.stops(10, "-1", 2500)).transaction_id == "-1"
    assert [session.open for session in await talk.all()] == [True, True]
    (orphan,) = (await talk.sessions.orphans(BAY_1)).items
    assert "fits 2 sessions" in orphan.reason
    assert orphan.body["register_wh"] == 2500
    await talk.stops(11, "-1", 900)
    await talk.stops(11, "-1", 2500, token=TokenRef("0000"))
    assert len((await talk.sessions.orphans()).items) == 3
    assert len(await facts(talk.database, "session.orphan")) == 3
    await talk.stops(12, first.transaction_id, 2600)
    assert [session.open for session in await talk.all()] == [False, True]


async def test_another_station_s_session_is_never_ended(talk: Conversation) -> None:
    tx = (await talk.starts(0, 1000)).transaction_id
    await talk.meters(5, 9_000_000, tx, station=BAY_2)
    assert (await talk.stops(10, tx, 2500, station=BAY_2)).transaction_id == tx
    session = await talk.one()
    assert (session.open, session.energy_wh, session.station_id) == (True, 0, BAY_1)
    assert await talk.registers(session.id) == []
    (orphan,) = (await talk.sessions.orphans(BAY_2)).items
    assert "another station" in orphan.reason


async def test_readings_of_a_lost_start_make_a_provisional_session(talk: Conversation) -> None:
    await talk.meters(5, 50_000, "4711")
    await talk.meters(10, 50_900, "4711")
    session = await talk.one()
    assert (session.state, session.energy_wh, session.evse) == (State.PROVISIONAL, 900, 1)
    assert Mark.NO_START_SEEN in session.marks
    assert session.started_at == talk.at(5)
    await talk.stops(12, "4711", 51_000, token=TokenRef(CARD_7))
    session = await talk.one()
    assert (session.state, session.energy_wh, session.member_id) == (State.ENDED, 1000, "flat-7")
    assert Mark.NO_START_SEEN in session.marks


async def test_an_id_of_old_is_never_given_again(talk: Conversation) -> None:
    first = int((await talk.starts(0, 0)).transaction_id)
    await talk.stops(1, str(first), 0)
    await talk.meters(2, 50_000, str(first + 2))
    given = (await talk.starts(3, 0, evse=2)).transaction_id
    assert given not in (str(first), str(first + 1), str(first + 2))
    await talk.stops(4, str(first + 2), 50_100)
    lost = await talk.sessions.by_transaction(BAY_1, str(first + 2))
    assert (lost.state, lost.energy_wh) == (State.ENDED, 100)


async def test_a_late_sample_completes_the_curve_and_reopens_nothing(talk: Conversation) -> None:
    tx = (await talk.starts(0, 1000)).transaction_id
    await talk.stops(10, tx, 2500)
    await talk.meters(5, 1700, tx)
    await talk.meters(12, 9000, tx)
    session = await talk.one()
    assert (session.state, session.energy_wh, session.marks) == (State.ENDED, 1500, {})
    curve = await talk.sessions.curve(session.id)
    assert [(p.at, p.energy_wh) for p in curve] == [(talk.at(0), 0), (talk.at(5), 700), (talk.at(10), 1500)]


async def test_a_register_that_starts_again_is_never_negative_and_marked(talk: Conversation) -> None:
    tx = (await talk.starts(0, 1000)).transaction_id
    for minute, register_wh in ((5, 2000), (10, 0), (15, 700), (20, 1400)):
        await talk.meters(minute, register_wh, tx)
    assert (await talk.one()).energy_wh == 1000 + 1400
    await talk.stops(25, tx, 2000)
    session = await talk.one()
    assert (session.energy_wh, list(session.marks)) == (3000, [Flag.REGISTER_RESET])
    marked = await facts(talk.database, "session.marked")
    assert [fact.body["mark"] for fact in marked] == ["register_reset"]


async def test_a_placeholder_zero_is_not_billed(talk: Conversation) -> None:
    tx = (await talk.starts(0, 0)).transaction_id
    await talk.meters(1, 12_000_000, tx)
    await talk.stops(10, tx, 12_001_000)
    session = await talk.one()
    assert (session.energy_wh, list(session.marks)) == (1000, [Flag.PLACEHOLDER_ZERO])


async def test_a_clock_at_1970_is_mended_by_the_time_of_arrival(talk: Conversation) -> None:
    booted = datetime(1970, 1, 1, 0, 0, 30, tzinfo=UTC)
    start = talk.start(0, 1000, at=booted)
    answer = await talk.says(start)
    assert await talk.says(start) == answer
    tx = answer.transaction_id
    for minute in (5, 10):
        talk.arrive(minute)
        reading = Reading(at=booted + timedelta(minutes=minute), register_wh=1000 + 100 * minute)
        await talk.says(MetersReported(1, (reading,), tx))
    running = await talk.one()
    assert (running.started_at, running.energy_wh) == (talk.at(0), 1000)
    assert Mark.CLOCK_OFF in running.marks
    # The clock was set meanwhile.
    await talk.stops(15, tx, 2600)
    session = await talk.one()
    assert (session.energy_wh, session.ended_at) == (1600, talk.at(15))


async def test_a_clock_that_is_ahead_is_mended_too(talk: Conversation) -> None:
    answer = await talk.says(talk.start(120, 1000))
    session = await talk.one()
    assert session.started_at == talk.at(0)
    assert Mark.CLOCK_OFF in session.marks
    talk.arrive(10)
    await talk.says(talk.stop(130, answer.transaction_id, 2000))
    session = await talk.one()
    assert (session.ended_at, session.energy_wh) == (talk.at(10), 1000)


async def test_a_night_offline_comes_in_one_go(talk: Conversation) -> None:
    talk.arrive(600)
    first = await talk.says(talk.start(0, 1000, offline=True))
    for minute in (60, 120):
        await talk.says(MetersReported(1, (talk.reading(minute, 1000 + 100 * minute),), first.transaction_id))
    await talk.says(talk.stop(180, first.transaction_id, 19_000, offline=True))
    second = await talk.says(talk.start(200, 19_000, offline=True))
    sessions = await talk.all()
    assert [(s.started_at, s.energy_wh, s.open) for s in sessions] == [
        (talk.at(0), 18_000, False),
        (talk.at(200), 0, True),
    ]
    assert second.token.verdict is Verdict.ACCEPTED


async def test_nothing_is_lost_and_nothing_doubled_over_a_restart(talk: Conversation) -> None:
    tx = (await talk.starts(0, 1000)).transaction_id
    await talk.meters(5, 1500, tx)
    await talk.meters(10, 0, tx)  # a value that fits nothing yet
    talk.restart()
    assert (await talk.one()).energy_wh == 500
    await talk.meters(10, 0, tx)
    await talk.meters(15, 2000, tx)
    await talk.meters(15, 2000, tx)
    talk.restart()
    await talk.stops(20, tx, 2400)
    session = await talk.one()
    assert (session.energy_wh, list(session.marks)) == (1400, [Flag.IMPLAUSIBLE_VALUE])
    assert await talk.registers(session.id) == [1500, 0, 2000]


async def test_a_station_that_was_at_another_node_is_read_again(talk: Conversation) -> None:
    tx = (await talk.starts(0, 1000)).transaction_id
    await talk.meters(5, 1500, tx)
    other = Conversation(talk.database, talk.clock)
    await other.meters(10, 2000, tx)
    await other.stops(12, tx, 2100)
    talk.sessions.forget(BAY_1)
    await talk.meters(11, 2050, tx)
    session = await talk.one()
    assert (session.state, session.energy_wh) == (State.ENDED, 1100)


async def test_readings_without_an_id_go_to_the_session_on_the_evse(talk: Conversation) -> None:
    await talk.meters(-5, 900, None)
    await talk.starts(0, 1000)
    await talk.meters(5, 1500, None)
    await talk.meters(6, 1600, "-1", evse=None)
    await talk.meters(7, 1700, "0", evse=0)
    await talk.meters(7.5, 88_000_000, None, evse=0)  # the station's main meter
    await talk.meters(8, 77, None, evse=2)
    await talk.meters(-1, 990, None)  # from before the start
    session = await talk.one()
    assert session.energy_wh == 700
    assert await talk.registers(session.id) == [1500, 1600, 1700]


async def test_a_status_tells_the_pauses_of_an_old_station(talk: Conversation) -> None:
    tx = (await talk.starts(0, 1000)).transaction_id
    await talk.status(1, EvseStatus.CHARGING)
    assert (await talk.one()).state is State.CHARGING
    await talk.status(10, EvseStatus.SUSPENDED_EVSE)
    await talk.status(20, EvseStatus.CHARGING)
    await talk.status(30, EvseStatus.SUSPENDED_EV)
    await talk.status(30, EvseStatus.FINISHING)
    await talk.status(31, EvseStatus.CHARGING, evse=2)
    session = await talk.one()
    assert (session.state, session.charging) == (State.SUSPENDED, ChargingState.SUSPENDED_EV)
    await talk.stops(40, tx, 2000)
    pauses = await talk.sessions.pauses(session.id)
    assert [(p.from_at, p.to_at, p.by_us) for p in pauses] == [
        (talk.at(10), talk.at(20), True),
        (talk.at(30), talk.at(40), False),
    ]


async def test_a_boot_or_a_new_connection_ends_no_session(talk: Conversation) -> None:
    tx = (await talk.starts(0, 1000)).transaction_id
    talk.sessions.forget(BAY_1)
    assert (await talk.one()).open
    await talk.meters(5, 1500, tx)
    assert (await talk.one()).energy_wh == 500


async def test_a_new_station_s_transaction(talk: Conversation) -> None:
    begin = talk.reading(0, 500, ReadingContext.BEGIN)
    answer = await talk.says(talk.event(BEGAN, 0, 0, begin, trigger="CablePluggedIn"))
    assert answer == TransactionAnswer("tx-a")
    assert (await talk.one()).verdict == ""
    talk.arrive(30)
    answer = await talk.says(talk.event(UPDATED, 1, 1, token=TokenRef("04:A1:B2:C3:D4")))
    assert answer.token.verdict is Verdict.ACCEPTED
    await talk.says(talk.event(UPDATED, 2, 2, charging=ChargingState.CHARGING))
    for i in range(3, 6):
        assert await talk.says(talk.event(UPDATED, i, i, talk.reading(i, 100 * i + 500))) == (
            TransactionAnswer("tx-a")
        )
    running = await talk.one()
    assert (running.state, running.energy_wh, running.last_sequence, running.member_id) == (
        State.CHARGING,
        500,
        5,
        FLAT_12,
    )
    await talk.says(talk.event(UPDATED, 6, 7, charging=ChargingState.SUSPENDED_EV))
    end = talk.reading(20, 1200, ReadingContext.END)
    await talk.says(talk.event(ENDED, 7, 20, end, reason=StopReason.EV_DISCONNECTED))
    session = await talk.one()
    assert (session.state, session.energy_wh, session.marks) == (State.ENDED, 700, {})
    assert (session.register_start_wh, session.register_stop_wh) == (500, 1200)
    assert [(p.from_at, p.to_at, p.by_us) for p in await talk.sessions.pauses(session.id)] == [
        (talk.at(7), talk.at(20), False)
    ]


async def test_a_new_station_that_never_says_charging_goes_the_short_way_too(
    talk: Conversation, monkeypatch: pytest.MonkeyPatch
) -> None:
    await talk.says(talk.event(BEGAN, 0, 0, talk.reading(0, 500, ReadingContext.BEGIN)))
    await talk.says(talk.event(UPDATED, 1, 1, talk.reading(1, 600)))
    assert (await talk.one()).state is State.CHARGING
    commits = talk.database.writer.commits
    monkeypatch.setattr(talk.filing, "file", None)
    await talk.says(talk.event(UPDATED, 2, 2, talk.reading(2, 700)))
    monkeypatch.undo()
    assert talk.database.writer.commits == commits + 1
    assert (await talk.one()).energy_wh == 200


async def test_the_end_first_then_what_was_before(talk: Conversation) -> None:
    talk.arrive(30)
    end = talk.reading(20, 1200, ReadingContext.END)
    await talk.says(talk.event(ENDED, 3, 20, end))
    session = await talk.one()
    assert set(session.marks) == {Mark.NO_START_SEEN, Mark.SEQUENCE_GAP}
    await talk.says(talk.event(UPDATED, 2, 10, talk.reading(10, 900), offline=True))
    begin = talk.reading(0, 500, ReadingContext.BEGIN)
    answer = await talk.says(talk.event(BEGAN, 0, 0, begin, token=TokenRef(CARD_7), offline=True))
    assert answer.token.verdict is Verdict.ACCEPTED
    session = await talk.one()
    assert (session.state, session.energy_wh, session.started_at) == (State.ENDED, 700, talk.at(0))
    assert (session.marks, session.member_id) == ({Mark.SEQUENCE_GAP: [[0, 0], [2, 3]]}, "flat-7")
    await talk.says(talk.event(UPDATED, 1, 5, talk.reading(5, 700), offline=True))
    assert (await talk.one()).marks == {}


async def test_a_station_s_own_key_switch_is_refused_and_named(talk: Conversation) -> None:
    answer = await talk.says(talk.event(BEGAN, 0, 0, token=TokenRef("", TokenKind.NONE)))
    assert answer.token.verdict is Verdict.UNKNOWN
    assert (await talk.one()).verdict_reason == "no_token"
    assert await talk.says(talk.event(BEGAN, 0, 0, token=TokenRef("", TokenKind.NONE))) == answer


async def test_what_no_column_holds_loses_no_transaction(talk: Conversation) -> None:
    wild = talk.start(
        0, 10**30, evse=10**12, connector=-1, remote_start_id=10**12, token=TokenRef("\x00" + "A" * 900)
    )
    answer = await talk.says(wild)
    assert await talk.says(wild) == answer
    await talk.says(MetersReported(10**12, (talk.reading(0.1, 1000),), answer.transaction_id))
    long_id = "\x00" + "x" * 500
    await talk.says(talk.event(BEGAN, 10**12, 1, transaction_id=long_id, evse=3))
    await talk.says(talk.event(UPDATED, 5, 2, talk.reading(2, 10), transaction_id=long_id, evse=None))
    first, second = await talk.all()
    assert (first.register_start_wh, first.evse, first.remote_start_id) == (None, None, None)
    assert second.transaction_id == "x" * 64
    assert await talk.registers(second.id) == [10]
    await talk.says(talk.event(UPDATED, 6, 3, transaction_id=None))
    assert len((await talk.sessions.orphans()).items) == 1


async def test_a_step_that_cannot_be_filed_is_kept_and_answered(
    talk: Conversation, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def broken(*_: object, **__: object) -> None:
        raise OurFault("a bug")

    monkeypatch.setattr(talk.filing, "file", broken)
    answer = await talk.starts(0, 1000)
    assert answer == TransactionAnswer("0")
    await talk.meters(1, 1100, "4711")
    monkeypatch.undo()
    meters, orphan = (await talk.sessions.orphans()).items
    assert orphan.body["register_wh"] == 1000
    assert meters.body["readings"][0]["register_wh"] == 1100
    assert await talk.all() == []
    # A station that is not known at all: its steps are kept as well.
    await talk.starts(1, 5, station="STRANGER")
    assert len((await talk.sessions.orphans("STRANGER")).items) == 1


async def test_a_socket_that_goes_while_we_write_leaves_nothing_in_memory(talk: Conversation) -> None:
    tx = (await talk.starts(0, 0)).transaction_id
    await talk.meters(1, 100, tx)
    talk.arrive(2)
    said = asyncio.ensure_future(talk.says(MetersReported(1, (talk.reading(2, 200),), tx)))
    await asyncio.sleep(0)
    said.cancel()
    with pytest.raises(asyncio.CancelledError):
        await said
    assert talk.lanes.of(BAY_1).station is None
    await talk.meters(2, 200, tx)
    await talk.meters(3, 300, tx)
    session = await talk.one()
    assert session.energy_wh == 300
    assert await talk.registers(session.id) == [100, 200, 300]


async def test_a_follower_that_fails_harms_nobody(talk: Conversation) -> None:
    def fails(_news: object) -> None:
        raise OurFault("a bug")

    talk.handlers.follow(fails)
    tx = (await talk.starts(0, 0)).transaction_id
    await talk.meters(1, 10, tx)
    assert (await talk.one()).energy_wh == 10


async def test_a_report_without_readings_is_nothing(talk: Conversation) -> None:
    await talk.says(MetersReported(1, (), "5"))
    assert await talk.all() == []
