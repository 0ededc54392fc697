"""A step that was kept as a document is the same again, but for whose it was."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest

from csms.sessions import intake
from csms.sessions.orphans.told import step_of
from csms.stations.events import MetersReported
from csms.stations.model import Reading, ReadingContext, StopReason, TokenRef
from csms.stations.questions import TransactionReported, TransactionStep
from csms.stations.signed import SignedValue

AT = datetime(2026, 11, 2, 11, tzinfo=UTC)
READING = Reading(
    at=AT,
    context=ReadingContext.END,
    register_wh=2500,
    power_w=0.5,
    current_a=(1.0, None, 0.0),
    voltage_v=(230.0, 231.0, None),
    line_power_w=(1.0, 2.0, 3.0),
    offered_a=16.0,
    temperature_c=20.5,
    soc_percent=80.0,
    signed=(SignedValue("7b", "{}", "OCMF"),),
    others=(("Frequency", "", "Hertz", "49.98"),),
)


def test_a_stop_comes_back_without_whose_it_was() -> None:
    told = TransactionReported(
        step=TransactionStep.ENDED,
        transaction_id="-1",
        at=AT,
        evse=1,
        token=TokenRef("04A1"),
        register_wh=2500,
        readings=(READING,),
        reason=StopReason.REMOTE,
        offline=True,
    )
    assert step_of(intake.body(told)) == replace(told, transaction_id=None, evse=None, token=None)


def test_readings_come_back_as_an_update() -> None:
    found = step_of(intake.body(MetersReported(1, (READING,), "x")))
    assert found == TransactionReported(
        step=TransactionStep.UPDATED, transaction_id=None, at=AT, readings=(READING,)
    )


@pytest.mark.parametrize(
    "body",
    [
        None,
        {"text": "TransactionReported(…)"},
        {"readings": []},
        {"readings": [{}], "at": AT.isoformat()},
        {"readings": [], "at": "2026-11-02T11:00:00"},
        {"readings": [], "at": AT.isoformat(), "step": "slept"},
        {"readings": [{"at": AT.isoformat(), "context": "end", "current_a": [1]}]},
    ],
)
def test_what_cannot_be_read_back_is_nothing(body: Any) -> None:
    assert step_of(body) is None
