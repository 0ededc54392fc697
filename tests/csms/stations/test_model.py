"""The nouns keep what they are given, and fit the columns that keep them."""

import dataclasses
from datetime import UTC, datetime

import pytest
from ocpp.v16.enums import ChargePointStatus
from ocpp.v201.enums import ConnectorStatusEnumType
from sqlalchemy import Column, String

from csms.stations.model import NO_LINES, EvseStatus, Reading, Registration
from csms.store.tables.stations import evse, station


def test_a_reading_without_values_says_nothing_and_not_zero() -> None:
    reading = Reading(at=datetime(2026, 11, 2, tzinfo=UTC))
    assert reading.current_a == reading.voltage_v == reading.line_power_w == NO_LINES == (None, None, None)
    assert (reading.register_wh, reading.power_w, reading.soc_percent) == (None, None, None)
    with pytest.raises(dataclasses.FrozenInstanceError):
        reading.power_w = 0.0  # type: ignore[misc]


@pytest.mark.parametrize(
    ("column", "words"), [(evse.c.status, list(EvseStatus)), (station.c.registration, list(Registration))]
)
def test_words_fit_their_columns(column: Column[str], words: list[str]) -> None:
    assert isinstance(column.type, String)
    assert column.type.length is not None
    assert max(len(word) for word in words) <= column.type.length


def test_statuses_of_the_standard_are_all_there() -> None:
    # By the enumerations of the `ocpp` package: ChargePointStatus of 1.6, ConnectorStatus of 2.0.1.
    standard = {status.value.lower() for status in (*ChargePointStatus, *ConnectorStatusEnumType)}
    assert {status.value.replace("_", "") for status in EvseStatus} == standard
