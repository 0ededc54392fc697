"""Charging profiles: the rules of both versions, and limits that never round up."""

import dataclasses
import math
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from csms.ocpp.fields import Fields
from csms.ocpp.profile import (
    read_periods,
    refusal,
    schedule_refusal,
    write_period,
    write_schedule,
    write_validity,
)
from csms.stations.model import ChargingProfile, ProfileKind, ProfilePeriod, ProfilePurpose, RateUnit
from tests.vectors.reader import official

AT = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)

TX = ChargingProfile(
    id=1,
    stack_level=0,
    purpose=ProfilePurpose.TX,
    kind=ProfileKind.RELATIVE,
    periods=(ProfilePeriod(0, 16.0),),
)
DEFAULT = dataclasses.replace(TX, purpose=ProfilePurpose.TX_DEFAULT, kind=ProfileKind.DAILY, start_at=AT)
STATION = dataclasses.replace(DEFAULT, purpose=ProfilePurpose.STATION_MAX, kind=ProfileKind.ABSOLUTE)


@pytest.mark.parametrize(
    ("profile", "evse"),
    [(TX, 1), (DEFAULT, 0), (DEFAULT, 2), (STATION, 0), (dataclasses.replace(TX, transaction_id="7"), 1)],
)
def test_what_may_be_set(profile: ChargingProfile, evse: int) -> None:
    assert refusal(profile, evse) is None


@pytest.mark.parametrize(
    ("profile", "evse", "field", "change"),
    [
        (TX, 0, "evse", {}),
        (STATION, 1, "evse", {}),
        (STATION, 0, "kind", {"kind": ProfileKind.RELATIVE, "start_at": None}),
        (DEFAULT, 0, "purpose", {"purpose": ProfilePurpose.EXTERNAL}),
        (DEFAULT, 0, "transaction_id", {"transaction_id": "7"}),
        (TX, 1, "start_at", {"start_at": AT}),
        (DEFAULT, 1, "start_at", {"start_at": None}),
        (TX, 1, "periods", {"periods": ()}),
        (TX, 1, "periods", {"periods": (ProfilePeriod(1, 6.0),)}),
        (TX, 1, "periods", {"periods": (ProfilePeriod(0, 6.0), ProfilePeriod(0, 7.0))}),
        (TX, 1, "periods", {"periods": (ProfilePeriod(0, -0.1),)}),
        (TX, 1, "periods", {"periods": (ProfilePeriod(0, math.nan),)}),
        (TX, 1, "periods", {"periods": (ProfilePeriod(0, math.inf),)}),
        (TX, 1, "periods", {"periods": (ProfilePeriod(0, 6.0, 4),)}),
    ],
)
def test_what_may_not_and_why(
    profile: ChargingProfile, evse: int, field: str, change: dict[str, Any]
) -> None:
    """OCPP 1.6 section 3.13 and 7.8; OCPP 2.0.1 K01.FR.38 and K11 (no relative maximum, no external ones)."""
    fault = refusal(dataclasses.replace(profile, **change), evse)
    assert fault is not None
    assert fault.problem.startswith(field + ":")


def test_a_schedule_is_judged_alone_for_a_start() -> None:
    assert schedule_refusal(TX) is None
    assert schedule_refusal(dataclasses.replace(TX, periods=())) is not None


@pytest.mark.parametrize(
    ("limit", "wire"),
    [
        (16.25, 16.2),
        (21.299999999999997, 21.3),
        (0.30000000000000004, 0.3),
        (15.942, 15.9),
        (8.696, 8.6),
        (6.0, 6.0),
        (0.09, 0.0),
    ],
)
def test_limits_are_rounded_down_to_a_tenth(limit: float, wire: float) -> None:
    """15.942 and 8.696 A are 11 and 6 kW over three lines at 230 V (OCPP 1.6 section 3.13.7)."""
    assert write_period(ProfilePeriod(0, limit)) == {"startPeriod": 0, "limit": wire}


@given(st.floats(0, 80), st.sampled_from([None, 1, 2, 3]))
def test_every_written_limit_is_valid_and_not_above_the_asked(limit: float, phases: int | None) -> None:
    """multipleOf 0.1 of the official schema of 1.6."""
    profile = dataclasses.replace(TX, periods=(ProfilePeriod(0, limit, phases),))
    wire = {
        "connectorId": 1,
        "csChargingProfiles": {
            "chargingProfileId": 1,
            "stackLevel": 0,
            "chargingProfilePurpose": "TxProfile",
            "chargingProfileKind": "Relative",
            "chargingSchedule": write_schedule(profile),
        },
    }
    official("v16", "SetChargingProfile", "request").validate(wire)
    written = wire["csChargingProfiles"]["chargingSchedule"]["chargingSchedulePeriod"][0]["limit"]  # type: ignore[index]
    assert limit - 0.1 < written <= limit + 1e-6


def test_a_schedule_and_its_validity() -> None:
    profile = dataclasses.replace(DEFAULT, unit=RateUnit.WATT, duration_s=60, valid_to=AT)
    assert write_schedule(profile) == {
        "chargingRateUnit": "W",
        "chargingSchedulePeriod": [{"startPeriod": 0, "limit": 16.0}],
        "startSchedule": "2026-03-02T07:30:00.000Z",
        "duration": 60,
    }
    assert write_validity(profile) == {"validTo": "2026-03-02T07:30:00.000Z"}
    assert write_validity(TX) == {}


def test_periods_that_lack_a_part_are_left_out() -> None:
    said = Fields(
        {"chargingSchedulePeriod": [{"startPeriod": 0, "limit": "6"}, {"limit": 7}, {"startPeriod": 9}, 5]}
    )
    assert read_periods(said) == (ProfilePeriod(0, 6.0),)
