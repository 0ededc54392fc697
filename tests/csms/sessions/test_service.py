"""Sessions by their service, on both databases."""

import pytest

from csms.errors import Conflict, InvalidInput, NotFound
from csms.sessions.session import Cost, Mark, SessionFilter, State
from csms.stations.model import EvseStatus, TokenRef
from tests.csms.conversation import Conversation
from tests.csms.yard import BAY_1, BAY_2, CARD_7, FLAT_7, FLAT_12, SITE, facts


async def test_sessions_are_listed_by_what_is_asked_the_newest_first(talk: Conversation) -> None:
    first = await talk.starts(0, 0)
    await talk.stops(10, first.transaction_id, 500)
    await talk.starts(20, 0, station=BAY_2, token=TokenRef(CARD_7))
    await talk.starts(30, 500)

    async def ids(wanted: SessionFilter) -> list[int]:
        return [session.id for session in (await talk.sessions.list(wanted)).items]

    one, two, three = sorted(session.id for session in await talk.all())
    assert await ids(SessionFilter()) == [three, two, one]
    assert await ids(SessionFilter(site_id=SITE, station_id=BAY_1)) == [three, one]
    assert await ids(SessionFilter(site_id="mill")) == []
    assert await ids(SessionFilter(member_id=FLAT_7)) == [two]
    assert await ids(SessionFilter(token_id=f"tok-{FLAT_12}", open=True)) == [three]
    assert await ids(SessionFilter(open=False)) == [one]
    assert await ids(SessionFilter(from_at=talk.at(20), to_at=talk.at(30))) == [two]
    page = await talk.sessions.list(limit=2)
    rest = await talk.sessions.list(limit=2, after=page.next)
    assert [s.id for s in (*page.items, *rest.items)] == [three, two, one]
    assert {s.id for s in await talk.sessions.open_sessions(SITE)} == {two, three}
    assert {s.id for s in await talk.sessions.open_sessions()} == {two, three}
    assert await talk.sessions.open_sessions("mill") == ()
    with pytest.raises(InvalidInput, match="after"):
        await talk.sessions.list(after="x")


async def test_who_charged_lately(talk: Conversation) -> None:
    for minutes, token in ((0, "04A1B2C3D4"), (20, CARD_7), (40, "04A1B2C3D4"), (60, "DEADBEEF")):
        tx = (await talk.starts(minutes, 0, token=TokenRef(token))).transaction_id
        await talk.stops(minutes + 10, tx, 700)
    found = await talk.sessions.last_charges(SITE, talk.at(0))
    assert [(c.member_id, c.last_at, c.sessions, c.energy_wh) for c in found] == [
        (None, talk.at(60), 1, 700),
        (FLAT_12, talk.at(40), 2, 1400),
        (FLAT_7, talk.at(20), 1, 700),
    ]
    recent = await talk.sessions.last_charges(SITE, talk.at(40), by_token=True)
    assert [(c.token_id, c.sessions) for c in recent] == [(None, 1), (f"tok-{FLAT_12}", 1)]


async def test_a_session_is_closed_by_hand_and_ended_by_a_late_stop(talk: Conversation) -> None:
    tx = (await talk.starts(0, 0)).transaction_id
    await talk.meters(5, 400, tx)
    talk.arrive(60)
    closed = await talk.sessions.close(int(tx), "Marta of the board")
    assert (closed.state, closed.ended_at, closed.energy_wh) == (State.CLOSED, talk.at(5), 400)
    assert closed.marks[Mark.CLOSED_BY_HAND] == "Marta of the board"
    with pytest.raises(Conflict):
        await talk.sessions.close(int(tx), "Marta of the board")
    with pytest.raises(NotFound):
        await talk.sessions.close(10**6, "Marta of the board")
    told = [fact.topic for fact in await facts(talk.database, "session.")]
    assert told == ["session.started", "session.ended", "session.marked"]
    # It was running all the same.
    await talk.meters(70, 900, tx)
    again = await talk.sessions.get(int(tx))
    assert (again.state, again.energy_wh, again.ended_at) == (State.CLOSED, 900, talk.at(70))
    await talk.stops(80, tx, 1000)
    assert (await talk.sessions.get(int(tx))).state is State.ENDED


async def test_pauses_by_us_are_told_by_who_shares_the_supply(talk: Conversation) -> None:
    assert not await talk.sessions.paused_by_us(BAY_1, 1, talk.at(-1))
    tx = (await talk.starts(0, 0)).transaction_id  # held from its first moment
    await talk.status(1, EvseStatus.SUSPENDED_EVSE)
    assert await talk.sessions.resumed(BAY_1, 1, talk.at(10))
    await talk.status(11, EvseStatus.CHARGING)
    assert await talk.sessions.paused_by_us(BAY_1, 1, talk.at(20))
    assert await talk.sessions.paused_by_us(BAY_1, 1, talk.at(21))
    talk.restart()
    assert await talk.sessions.paused_by_us(BAY_1, 1, talk.at(22))
    assert await talk.sessions.resumed(BAY_1, 1, talk.at(25))
    await talk.stops(30, tx, 100)
    assert not await talk.sessions.resumed(BAY_1, 1, talk.at(31))
    pauses = await talk.sessions.pauses(int(tx))
    assert [(p.from_at, p.to_at, p.by_us) for p in pauses] == [
        (talk.at(0), talk.at(11), True),
        (talk.at(20), talk.at(25), True),
    ]
    with pytest.raises(NotFound):
        await talk.sessions.pauses(10**6)


async def test_what_a_session_costs_stays_with_it(talk: Conversation) -> None:
    tx = (await talk.starts(0, 0)).transaction_id
    await talk.sessions.set_cost(int(tx), Cost("tar_1", "EUR", 1000, 1210, [{"dimension": "ENERGY"}]))
    await talk.stops(10, tx, 400)
    session = await talk.one()
    assert (session.currency, session.cost_excl_minor, session.cost_incl_minor) == ("EUR", 1000, 1210)
    assert (session.cost_lines, session.energy_wh) == ([{"dimension": "ENERGY"}], 400)
    with pytest.raises(NotFound):
        await talk.sessions.set_cost(10**6, Cost(None, "EUR", 0, 0))


async def test_samples_and_the_curve_of_a_session(talk: Conversation) -> None:
    tx = (await talk.starts(0, 0)).transaction_id
    for minute in range(1, 6):
        await talk.meters(minute, 100 * minute, tx, power_w=6000.0)
    page = await talk.sessions.samples(int(tx), limit=3)
    rest = await talk.sessions.samples(int(tx), limit=3, after=page.next)
    powers = [sample.reading.power_w for sample in (*page.items, *rest.items)]
    assert powers == [6000.0] * 5
    curve = await talk.sessions.curve(int(tx))
    assert [point.energy_wh for point in curve] == [0, 100, 200, 300, 400, 500]
    with pytest.raises(NotFound):
        await talk.sessions.samples(10**6)
    with pytest.raises(NotFound):
        await talk.sessions.by_transaction(BAY_1, "nothing")
    with pytest.raises(InvalidInput):
        await talk.sessions.samples(int(tx), after="-1")
