"""A step made fit to keep."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest

from csms.sessions.intake import body, clean, clean_evse, clean_id, named, start_key
from csms.stations.model import Reading, TokenRef
from csms.stations.questions import TransactionReported, TransactionStep

AT = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)
START = TransactionReported(
    step=TransactionStep.BEGAN,
    transaction_id=None,
    at=AT,
    evse=1,
    connector=1,
    token=TokenRef("04A1"),
    register_wh=1000,
)


def test_ids_are_trimmed_and_bounded() -> None:
    assert clean_id(" 17\x00 ") == "17"
    assert clean_id("") is None
    assert clean_id(" \t") is None
    assert clean_id(None) is None
    assert clean_id("x" * 99) == "x" * 64


@pytest.mark.parametrize("text", [None, "", "0", "-1", "2147483647"])
def test_made_up_ids_mean_nothing(text: str | None) -> None:
    assert not named(text)


def test_a_true_id_means_something() -> None:
    assert named("17")
    assert named("3f2a-…")


def test_numbers_that_no_column_holds_are_unknown() -> None:
    wild = replace(START, evse=0, connector=10**9, register_wh=10**16, sequence=-1, remote_start_id=2**40)
    cleaned = clean(wild)
    assert (cleaned.evse, cleaned.connector, cleaned.register_wh) == (None, None, None)
    assert (cleaned.sequence, cleaned.remote_start_id) == (None, None)
    assert clean(START) == START
    assert [clean_evse(n) for n in (None, -1, 0, 1, 999, 1000)] == [None, None, None, 1, 999, None]


def test_a_start_is_recognised_by_all_that_it_says() -> None:
    key = start_key(START)
    assert start_key(replace(START, token=TokenRef("04:a1"))) == key
    for other in (
        replace(START, connector=2),
        replace(START, register_wh=1001),
        replace(START, at=AT + timedelta(seconds=1)),
        replace(START, token=TokenRef("04A2")),
        replace(START, token=None),
    ):
        assert start_key(other) != key
    assert len(start_key(replace(START, token=TokenRef("ß" * 900)))) <= 400


def test_a_step_that_fits_nowhere_can_be_kept_as_a_document() -> None:
    local = timezone(timedelta(hours=1))
    step = replace(START, token=TokenRef("\x00a"), readings=(Reading(at=AT.astimezone(local)),))
    document = body(step)
    assert document["token"]["text"] == "a"
    assert document["readings"][0]["at"] == "2026-11-02T11:00:00+00:00"
    assert json.loads(json.dumps(document)) == document
    wild = replace(START, readings=(Reading(at=AT, power_w=float("nan")),))
    assert "nan" in body(wild)["text"]
