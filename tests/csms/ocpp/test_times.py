"""Times: every shade that stations write, one form that we write."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from csms.ocpp.adapter import Unreadable
from csms.ocpp.times import read_time, write_time

EIGHT = datetime(2024, 5, 1, 8, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "at"),
    [
        ("2024-05-01T08:00:00Z", EIGHT),
        ("2024-05-01T08:00:00.000Z", EIGHT),
        ("2024-05-01T10:00:00+02:00", EIGHT),
        ("2024-05-01T02:30:00-05:30", EIGHT),
        ("2024-05-01T10:00:00+0200", EIGHT),
        ("2024-05-01T08:00:00", EIGHT),
        ("2024-05-01 08:00:00", EIGHT),
        ("2024-05-01 08:00:00 Z", EIGHT),
        ("2024-05-01t08:00:00z", EIGHT),
        ("  2024-05-01T08:00:00Z\0", EIGHT),
        ("2024-05-01T08:00Z", EIGHT),
        ("20240501T080000Z", EIGHT),
        ("2024-05-01T08:00:00.1Z", EIGHT + timedelta(milliseconds=100)),
        ("2024-05-01T08:00:00.1234567Z", EIGHT + timedelta(microseconds=123456)),
        ("2024-05-01T08:00:00.123456789+00:00", EIGHT + timedelta(microseconds=123456)),
        ("2024-05-01T08:00:00,5Z", EIGHT + timedelta(milliseconds=500)),
        ("2024-04-30T24:00:00Z", datetime(2024, 5, 1, tzinfo=UTC)),
        ("2016-12-31T23:59:60Z", datetime(2017, 1, 1, tzinfo=UTC)),
        ("1970-01-01T00:00:07Z", datetime(1970, 1, 1, 0, 0, 7, tzinfo=UTC)),
        ("1970-01-01T00:00:00+01:00", datetime(1969, 12, 31, 23, tzinfo=UTC)),
    ],
)
def test_reads_every_shade_of_iso_8601(text: str, at: datetime) -> None:
    """23:59:60 on 2016-12-31 was a real leap second (IERS Bulletin C 52)."""
    read = read_time(text, "timestamp")
    assert read == at
    assert read.tzinfo is UTC


@pytest.mark.parametrize(
    "value",
    [
        "yesterday",
        "",
        "2024-05-01",
        "2024-13-01T08:00:00Z",
        "2024-05-01T25:00:00Z",
        "01/05/2024 08:00:00",
        "0001-01-01T00:00:00Z",
        "0001-01-01T00:00:00+14:00",
        "9999-12-31T23:59:59-14:00",
        "9999-12-31T24:00:00Z",
        1714550400,
        None,
        ["2024-05-01T08:00:00Z"],
    ],
)
def test_names_the_field_of_a_false_time(value: object) -> None:
    with pytest.raises(Unreadable) as caught:
        read_time(value, "meterValue[0].timestamp")
    assert caught.value.field == "meterValue[0].timestamp"


@given(st.text(alphabet="0123456789-:TZ .+,tz\0", max_size=40))
def test_raises_nothing_else(text: str) -> None:
    try:
        assert read_time(text, "timestamp").tzinfo is UTC
    except Unreadable as error:
        assert error.field == "timestamp"  # noqa: PT017


def test_writes_utc_with_milliseconds() -> None:
    assert write_time(EIGHT) == "2024-05-01T08:00:00.000Z"
    east = timezone(timedelta(hours=2))
    assert write_time(datetime(2024, 5, 1, 10, 0, 0, 999999, tzinfo=east)) == "2024-05-01T08:00:00.999Z"


@given(st.timedeltas(timedelta(0), timedelta(days=60_000)))
def test_reads_what_it_writes(since_1970: timedelta) -> None:
    at = datetime(1970, 1, 1, tzinfo=UTC) + since_1970
    assert timedelta(0) <= at - read_time(write_time(at), "timestamp") < timedelta(milliseconds=1)
