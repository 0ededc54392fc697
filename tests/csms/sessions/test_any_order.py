"""The same messages in any order, as often as you like: one session, the same energy.

The in-order run is the measure; what it comes to is checked against plain subtraction where the
registers behave.
"""

import asyncio
import itertools
import random
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from csms.sessions.session import Session, SessionFilter, State
from csms.stations.events import MetersReported
from csms.stations.model import ChargingState, ReadingContext, TokenRef
from csms.stations.questions import TransactionReported, TransactionStep
from tests.csms.conversation import Conversation
from tests.csms.yard import CARD_12

_numbers = itertools.count()
_small = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
_steps = st.lists(
    st.one_of(st.integers(0, 900), st.integers(0, 900), st.sampled_from([-100_000, 5_000_000, -3])),
    min_size=1,
    max_size=6,
)


def registers(steps_wh: Sequence[int]) -> list[int]:
    return [max(0, wh) for wh in itertools.accumulate([100_000, *steps_wh])]


def what_counts(session: Session) -> tuple[Any, ...]:
    return (
        session.state,
        session.charging,
        session.energy_wh,
        session.started_at,
        session.ended_at,
        session.register_start_wh,
        session.register_stop_wh,
        session.register_last_wh,
        session.member_id,
        session.verdict,
        dict(session.marks),
        session.last_sequence,
    )


def messages(talk: Conversation, transaction_id: str, registers_wh: list[int]) -> list[TransactionReported]:
    """An OCPP 2.x transaction, in order."""
    last = len(registers_wh) - 1
    found = []
    for i, wh in enumerate(registers_wh):
        context = ReadingContext.BEGIN if i == 0 else ReadingContext.PERIODIC
        step = TransactionStep.BEGAN if i == 0 else TransactionStep.UPDATED
        report = talk.event(step, i, 5 * i, talk.reading(5 * i, wh, context), transaction_id=transaction_id)
        if i == 0:
            report = replace(report, token=TokenRef(CARD_12))
        if i == 1:
            report = replace(report, charging=ChargingState.CHARGING)
        found.append(report)
    end = talk.reading(5 * last + 5, registers_wh[-1], ReadingContext.END)
    found.append(
        talk.event(TransactionStep.ENDED, last + 1, 5 * last + 5, end, transaction_id=transaction_id)
    )
    return found


async def test_a_new_station_s_messages_in_any_order(talk: Conversation) -> None:
    talk.arrive(600)

    @_small
    @given(_steps, st.randoms(use_true_random=False))
    async def run(steps_wh: list[int], shuffle: random.Random) -> None:
        registers_wh = registers(steps_wh)
        straight, mixed = f"a{next(_numbers)}", f"b{next(_numbers)}"
        for report in messages(talk, straight, registers_wh):
            await talk.says(report)
        story = messages(talk, mixed, registers_wh)
        story += shuffle.choices(story, k=3)
        shuffle.shuffle(story)
        for report in story:
            await talk.says(report)
        expected = await talk.sessions.by_transaction("YARD-01", straight)
        found = await talk.sessions.by_transaction("YARD-01", mixed)
        assert what_counts(found) == what_counts(expected)
        assert (found.state, found.member_id, found.verdict) == (State.ENDED, "flat-12", "accepted")
        assert sorted(map(str, await talk.registers(found.id))) == sorted(
            map(str, await talk.registers(expected.id))
        )
        if all(step >= 0 for step in steps_wh) and max(steps_wh) < 1000:
            assert found.energy_wh == sum(steps_wh)
            assert found.marks == {}

    await _all_examples(run)


async def test_an_old_station_s_messages_in_any_order_after_the_start(talk: Conversation) -> None:
    talk.arrive(600)

    @_small
    @given(_steps, st.randoms(use_true_random=False))
    async def run(steps_wh: list[int], shuffle: random.Random) -> None:
        registers_wh = registers(steps_wh)
        outcomes = []
        for mix in (False, True):
            # Another connector each time, so that the words of the start are new.
            start = talk.start(0, registers_wh[0], connector=1 + next(_numbers))
            tx = (await talk.says(start)).transaction_id
            story: list[object] = [
                MetersReported(1, (talk.reading(5 * i, wh),), tx)
                for i, wh in enumerate(registers_wh[1:-1], start=1)
            ]
            story.append(talk.stop(5 * len(registers_wh), tx, registers_wh[-1]))
            if mix:
                story += [start, *shuffle.choices(story, k=3)]
                shuffle.shuffle(story)
            for message in story:
                answer = await talk.says(message)
                assert answer is None or answer.transaction_id == tx
            outcomes.append(what_counts(await talk.sessions.get(int(tx))))
        assert outcomes[0] == outcomes[1]
        assert outcomes[0][0] is State.ENDED

    await _all_examples(run)
    page = await talk.sessions.list(SessionFilter(open=True))
    assert page.items == ()


async def _all_examples(test: Any) -> None:
    """Run an async property in the loop that the database lives in."""
    loop = asyncio.get_running_loop()
    inner = test.hypothesis.inner_test

    def blocking(*args: Any, **kwargs: Any) -> None:
        asyncio.run_coroutine_threadsafe(inner(*args, **kwargs), loop).result(60)

    test.hypothesis.inner_test = blocking
    await asyncio.to_thread(test)
