"""The session document of `phaseyard price`."""

from collections.abc import Callable
from datetime import UTC, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from csms.errors import InvalidInput
from csms.tariffs.component import Dimension
from csms.tariffs.curve import ReservationOutcome, SegmentKind
from csms.tariffs.imagined import parse_session

Edit = Callable[[dict[str, Any]], object]


def session(**fields: Any) -> dict[str, Any]:
    return {
        "start_local": "2024-01-15T09:30:00",
        "time_zone": "Europe/Amsterdam",
        "segments": [
            {"kind": "RESERVATION", "duration_s": 60},
            {
                "kind": "CHARGING",
                "duration_s": 9900,
                "energy_kwh": Decimal("9.5"),
                "current_a": 16,
                "power_kw": Decimal("3.6"),
            },
            {"kind": "PAUSED", "duration_s": Decimal("0.5")},
            {"kind": "PARKING", "duration_s": 1},
        ],
        **fields,
    }


def test_everything_is_read_in_base_units() -> None:
    curve = parse_session(session(reservation_outcome="USED", assumed=["the date"])).curve
    assert curve.start == datetime(2024, 1, 15, 8, 30, tzinfo=UTC)
    assert curve.zone.key == "Europe/Amsterdam"
    assert curve.outcome is ReservationOutcome.USED
    assert [s.kind for s in curve.segments] == [
        SegmentKind.RESERVATION,
        SegmentKind.CHARGING,
        SegmentKind.PAUSED,
        SegmentKind.PARKING,
    ]
    charging = curve.segments[1]
    assert [charging.duration_s, charging.energy_wh] == [Fraction(9900), Fraction(9500)]
    assert [charging.current_a, charging.power_w] == [Fraction(16), Fraction(3600)]
    assert curve.segments[3].current_a is None


@pytest.mark.parametrize(
    ("local", "utc"),
    [
        ("2024-07-01T00:30:00", "2024-06-30T22:30:00+00:00"),
        ("2024-10-27T02:30:00", "2024-10-27T00:30:00+00:00"),
        ("2024-01-15T09:30", "2024-01-15T08:30:00+00:00"),
    ],
    ids=["summer", "the repeated hour: its first pass", "without seconds"],
)
def test_local_starts(local: str, utc: str) -> None:
    assert parse_session(session(start_local=local)).curve.start.isoformat() == utc


def test_a_start_in_utc_with_sums_to_check() -> None:
    """As the standard's "Example of a CDR" gives them: 7103 s and 15.342 kWh."""
    document = {
        "start_utc": "2024-12-05T17:39:09Z",
        "end_utc": "2024-12-05T19:37:32Z",
        "total_time_h": "1.973",
        "total_energy_kwh": Decimal("15.342"),
        "segments": [{"kind": "CHARGING", "duration_s": 7103, "energy_kwh": Decimal("15.342")}],
    }
    assert parse_session(document).curve.zone.key == "UTC"
    for field, wrong in (
        ("end_utc", "2024-12-05T19:37:33Z"),
        ("total_time_h", "1.98"),
        ("total_energy_kwh", 16),
        ("total_energy_kwh", "much"),
    ):
        with pytest.raises(InvalidInput, match=f"^{field}: "):
            parse_session({**document, field: wrong})


def test_actual_prices() -> None:
    document = session(price_override={"ENERGY": Decimal("0.22")})
    assert parse_session(document).prices == {Dimension.ENERGY: Decimal("0.22")}


@pytest.mark.parametrize(
    ("edit", "message"),
    [
        (lambda d: d.pop("start_local"), "start_local: missing"),
        (lambda d: d.update(start_local="15.1.2024"), "start_local: must be a local time such as"),
        (lambda d: d.update(start_local="2024-01-15"), "start_local: must be a local time such as"),
        (lambda d: d.update(start_local="2024-01-15T09:30:00Z"), "start_local: must be without offset"),
        (
            lambda d: d.update(start_local="2024-03-31T02:30:00"),
            "start_local: 2024-03-31T02:30:00 does not exist in Europe/Amsterdam",
        ),
        (lambda d: d.update(start_utc="2024-01-15T09:30:00Z"), "start_utc: given beside start_local"),
        (lambda d: d.pop("time_zone"), "time_zone: missing"),
        (lambda d: d.update(time_zone="Mars/Olympus"), "time_zone: 'Mars/Olympus' is no zone"),
        (lambda d: d.update(time_zone="../etc/passwd"), "time_zone: '../etc/passwd' is no zone"),
        (lambda d: d.update(segments=[]), "segments: must have at least 1"),
        (lambda d: d["segments"][1].update(kind="DRIVING"), "segments[1].kind: must be one of CHARGING"),
        (lambda d: d["segments"][1].pop("duration_s"), "segments[1].duration_s: missing"),
        (lambda d: d["segments"][1].update(duration_s=-1), "segments[1].duration_s: must not be negative"),
        (lambda d: d["segments"][1].update(energy_kwh="9"), "segments[1].energy_kwh: must be a number"),
        (lambda d: d["segments"][1].update(energy_wh=9), "segments[1].energy_wh: not a field here"),
        (lambda d: d["segments"][1].update(duration_s=10**8), "segments: last 100000061 s, more than a year"),
        (lambda d: d["segments"][0].update(energy_kwh=1), "segments[0].energy_kwh: no energy flows"),
        (lambda d: d["segments"].reverse(), "segments[3].kind: a RESERVATION comes before"),
        (lambda d: d.update(reservation_outcome="LATE"), "reservation_outcome: must be one of used, expired"),
        (lambda d: d.update(reservation_outcome=3), "reservation_outcome: must be text"),
        (lambda d: d.update(reservation_outcome="expired"), "reservation_outcome: a reservation followed by"),
        (
            lambda d: d.update(reservation_outcome="used", segments=d["segments"][1:]),
            "reservation_outcome: given, but no segment is a RESERVATION",
        ),
        (lambda d: d.update(price_override={"GAS": 1}), "price_override.GAS: not a field here"),
        (lambda d: d.update(price_override={"ENERGY": None}), "price_override.ENERGY: missing"),
    ],
    ids=lambda value: value.split(" ")[0] if isinstance(value, str) else "",
)
def test_what_is_wrong_is_named_by_its_path(edit: Edit, message: str) -> None:
    document = session()
    edit(document)
    with pytest.raises(InvalidInput) as caught:
        parse_session(document, "session")
    assert str(caught.value).startswith(f"session.{message}")
