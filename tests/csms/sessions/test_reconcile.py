"""Where a step belongs, row by row."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from csms.sessions.reconcile import Found, Known, New, Orphan, match
from csms.sessions.session import Mark, Session, State
from csms.stations.model import TokenRef
from csms.stations.questions import TransactionReported, TransactionStep

AT = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
RUNNING = Session(
    id=7,
    station_id="YARD-01",
    evse=1,
    transaction_id="7",
    token_folded="04a1",
    started_at=AT - HOUR,
    arrived_at=AT - HOUR,
    register_start_wh=1000,
)
BEGAN = TransactionReported(step=TransactionStep.BEGAN, transaction_id=None, at=AT)
UPDATED = TransactionReported(step=TransactionStep.UPDATED, transaction_id="tx", at=AT)
STOP = TransactionReported(step=TransactionStep.ENDED, transaction_id="-1", at=AT, register_wh=2000)


def test_the_id_decides() -> None:
    for step in (BEGAN, UPDATED, STOP):
        assert match(step, Known(by_id=RUNNING)) == Found(RUNNING)


def test_a_start_is_new_unless_it_was_said_before() -> None:
    assert match(BEGAN, Known()) == New(provisional=False)
    assert match(BEGAN, Known(same_start=RUNNING)) == Found(RUNNING)
    # A station that names its transactions says what it means.
    assert match(replace(BEGAN, transaction_id="tx"), Known(same_start=RUNNING)) == New(False)


def test_an_update_of_an_unknown_transaction_opens_a_provisional_session() -> None:
    assert match(UPDATED, Known()) == New(provisional=True)
    assert isinstance(match(replace(UPDATED, transaction_id=None), Known()), Orphan)
    foreign = match(UPDATED, Known(foreign=True))
    assert isinstance(foreign, Orphan)
    assert "another station" in foreign.reason


def test_a_numbered_stop_before_its_start_opens_a_provisional_session() -> None:
    numbered = replace(STOP, transaction_id="tx", sequence=3)
    assert match(numbered, Known(not_ended=[RUNNING])) == New(provisional=True)


@pytest.mark.parametrize("transaction_id", [None, "0", "-1", "2147483647", "4711"])
def test_a_stop_without_a_true_id_goes_to_the_only_one_it_fits(transaction_id: str | None) -> None:
    stop = replace(STOP, transaction_id=transaction_id)
    assert match(stop, Known(not_ended=[RUNNING])) == Found(RUNNING, Mark.MATCHED_STOP)
    foreign = match(stop, Known(not_ended=[RUNNING], foreign=True))
    assert foreign == Found(RUNNING, Mark.MATCHED_STOP)


@pytest.mark.parametrize(
    "stop",
    [
        replace(STOP, register_wh=999),
        replace(STOP, at=AT - 2 * HOUR),
        replace(STOP, evse=2),
        replace(STOP, token=TokenRef("04FF")),
    ],
)
def test_a_stop_that_contradicts_a_session_is_not_its(stop: TransactionReported) -> None:
    assert isinstance(match(stop, Known(not_ended=[RUNNING])), Orphan)


def test_more_that_fit_are_too_many_unless_something_tells_them_apart() -> None:
    other = replace(RUNNING, id=8, evse=2, token_folded="04b2")
    both = Known(not_ended=[RUNNING, other])
    doubt = match(STOP, both)
    assert isinstance(doubt, Orphan)
    assert "fits 2 sessions" in doubt.reason
    assert match(replace(STOP, token=TokenRef("04:B2")), both) == Found(other, Mark.MATCHED_STOP)
    assert match(replace(STOP, evse=1), both) == Found(RUNNING, Mark.MATCHED_STOP)


def test_the_repeat_of_such_a_stop_is_known_by_its_words() -> None:
    ended = replace(RUNNING, state=State.ENDED)
    other = replace(RUNNING, id=8)
    assert match(STOP, Known(same_stop=ended, not_ended=[other])) == Found(ended)
    assert isinstance(match(STOP, Known(not_ended=[ended])), Orphan)
