"""The charge detail record, field by field (OCPI 2.2.1, mod_cdrs, "CDR Object")."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from api.ocpi.cdr import CdrFacts, write_cdr
from csms.errors import Conflict
from csms.metering.series import CurvePoint
from csms.metering.signed.stored import StoredRecord
from csms.metering.signed.verdict import Verdict
from csms.sessions.pauses import Pause
from csms.sessions.session import Session, State
from csms.sites.location.location import SiteLocation
from csms.sites.model import Site, System
from csms.stations.signed import SignedValue
from tests.csms.metering.signed.meter import Meter, reading

BEGIN = datetime(2026, 11, 2, 17, tzinfo=UTC)
HOUR = timedelta(hours=1)
SESSION = Session(
    id=41,
    station_id="YARD-01",
    site_id="weavers-yard",
    evse=1,
    connector=1,
    state=State.ENDED,
    token_text="04A1B2C3D4",
    token_id="tok-12",
    started_at=BEGIN,
    ended_at=BEGIN + 4 * HOUR,
    arrived_at=BEGIN,
    energy_wh=10_001,
    marks={"clock_off": True},
    tariff_id="day",
    currency="EUR",
    cost_excl_minor=300,
    cost_incl_minor=363,
    cost_lines={
        "lines": [
            {"dimension": "FLAT", "cost_excl_vat": "0.50", "cost_incl_vat": "0.605", "start": "x"},
            {
                "dimension": "ENERGY",
                "cost_excl_vat": "1.5",
                "cost_incl_vat": "1.815",
                "start": "2026-11-02T17:00:00Z",
            },
            {
                "dimension": "SPOT",
                "cost_excl_vat": "1.0",
                "cost_incl_vat": "1.21",
                "start": "2026-11-02T18:30:00Z",
            },
        ]
    },
)
FACTS = CdrFacts(
    session=SESSION,
    site=Site(
        id="weavers-yard",
        name="Weavers' Yard",
        time_zone="Europe/Brussels",
        currency="EUR",
        system=System.TN_400,
        active=True,
        created_at=BEGIN,
    ),
    location=SiteLocation(
        country_code="BE",
        party_id="WEY",
        address="Weversgang 1",
        city="Gent",
        postal_code="9000",
        country="BEL",
        latitude="51.04530",
        longitude="3.72500",
    ),
    curve=(
        CurvePoint(BEGIN, 0, 0),
        CurvePoint(BEGIN + HOUR, 0, 4_000),
        CurvePoint(BEGIN + 2 * HOUR, 0, 8_000),
        CurvePoint(BEGIN + 4 * HOUR, 0, 10_001),
    ),
    pauses=(
        Pause(BEGIN + HOUR, BEGIN + 1.25 * HOUR, by_us=True),
        Pause(BEGIN + 3 * HOUR, None, by_us=False),
    ),
    tariff={"id": "day", "currency": "EUR"},
    records=(),
    key=None,
    at=BEGIN + 5 * HOUR,
)


def test_all_that_the_standard_asks_for_is_there() -> None:
    document = write_cdr(FACTS)
    assert document.keys() >= {
        *("country_code", "party_id", "id", "start_date_time", "end_date_time", "cdr_token"),
        *("auth_method", "cdr_location", "currency", "charging_periods", "total_cost", "total_energy"),
        *("total_time", "last_updated"),
    }
    assert document["cdr_location"].keys() >= {
        *("id", "address", "city", "country", "coordinates", "evse_uid", "evse_id", "connector_id"),
        *("connector_standard", "connector_format", "connector_power_type"),
    }
    assert document["cdr_location"]["evse_id"] == "BE*WEY*EYARD01*1"
    assert document["start_date_time"] == "2026-11-02T17:00:00Z"
    assert document["remark"] == "Marked: clock_off"
    assert "signed_data" not in document


def test_periods_add_up_and_what_we_held_back_has_no_time() -> None:
    document = write_cdr(FACTS)
    periods = document["charging_periods"]
    assert [period["start_date_time"][11:16] for period in periods] == [
        *("17:00", "18:00", "18:15", "18:30", "20:00"),
    ]
    kinds = [[each["type"] for each in period["dimensions"]] for period in periods]
    assert kinds == [["ENERGY", "TIME"], ["ENERGY"], *[["ENERGY", "TIME"]] * 2, ["ENERGY", "PARKING_TIME"]]
    energy = sum((period["dimensions"][0]["volume"] for period in periods), Decimal(0))
    assert energy == document["total_energy"] == Decimal("10.001")
    assert (document["total_time"], document["total_parking_time"]) == (4, Decimal("1.25"))
    costs = [document[name]["excl_vat"] for name in ("total_fixed_cost", "total_energy_cost", "total_cost")]
    assert costs == [Decimal("0.5"), Decimal("2.5"), 3]
    assert document["total_energy_cost"]["incl_vat"] == Decimal("3.025")


def stored(text: str, **more: Any) -> StoredRecord:
    return StoredRecord(
        id=1,
        station_id="YARD-01",
        evse=1,
        session_id=41,
        at=BEGIN,
        context=more.get("context", "periodic"),
        value=SignedValue(text, text, more.get("encoding", "OCMF")),
        digest="",
        serial="LOOM0001",
        verdict=Verdict.VERIFIED,
        reasons=(),
        key_id=None,
        judged_at=None,
    )


def test_signed_data_says_what_each_record_is() -> None:
    meter = Meter()
    records = (
        stored(meter.record(reading("B", "1.00"))),
        stored(meter.record(reading("C", "2.00"))),
        stored(meter.record(reading("B", "1.00"), reading("E", "3.00"))),
        stored("3c3c", context="end", encoding="EDL"),
    )
    signed = write_cdr(replace(FACTS, records=records, key=b"der"))["signed_data"]
    assert [value["nature"] for value in signed["signed_values"]] == ["Start", "Intermediate", "End", "End"]
    assert (signed["encoding_method"], signed["public_key"]) == ("EDL/OCMF", "ZGVy")
    assert all(len(value["plain_data"]) <= 512 for value in signed["signed_values"])


def test_without_an_end_or_a_price_there_is_none() -> None:
    for changes in ({"state": State.CHARGING, "ended_at": None}, {"cost_excl_minor": None}):
        with pytest.raises(Conflict):
            write_cdr(replace(FACTS, session=replace(SESSION, **changes)))


def test_a_session_of_one_moment_has_one_period() -> None:
    short = replace(SESSION, ended_at=BEGIN, energy_wh=0, cost_lines=None, token_text="", evse=None)
    document = write_cdr(replace(FACTS, session=short, curve=(), pauses=(), tariff=None))
    (period,) = document["charging_periods"]
    assert period["dimensions"] == [{"type": "ENERGY", "volume": 0}, {"type": "TIME", "volume": 0}]
    assert document["tariffs"] == []
    assert document["cdr_token"]["type"] == "OTHER"
