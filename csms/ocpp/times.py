"""Times on the wire: ISO 8601 in every shade that stations use, and one exact form from us.

Read: any offset, any number of decimals (cut at microseconds), a space for the T, small
letters, no zone at all (then UTC, as OCPP advises), 24:00 and a leap second. A false `Z`
cannot be seen here; the median of arrival minus time shows it (sessions).
Written: UTC with `Z` and milliseconds, the most that OCPP 2.x allows (three decimals).
"""

from datetime import UTC, datetime, timedelta

from csms.ocpp.adapter import Unreadable

EARLIEST_YEAR = 1969
"""A clock that was never set shows 1970, or 1969 west of Greenwich; before that it is a placeholder."""

LATEST_YEAR = 2199

_ADVICE = "is no ISO 8601 time, e.g. 2024-05-01T08:00:00Z"


def read_time(value: object, field: str) -> datetime:
    """The instant in UTC. Raises Unreadable(field) for what is no possible date with a time."""
    if type(value) is not str or len(value) < 11:
        raise Unreadable(field, f"{value!r:.40} {_ADVICE}")
    try:
        at = datetime.fromisoformat(value)
    except ValueError:
        at = _read_odd(value, field)
    if at.tzinfo is None:
        at = at.replace(tzinfo=UTC)
    elif at.tzinfo is not UTC:
        try:
            at = at.astimezone(UTC)
        except OverflowError:
            raise Unreadable(field, f"{value!r:.40} is no possible time") from None
    if not EARLIEST_YEAR <= at.year <= LATEST_YEAR:
        raise Unreadable(field, f"{value!r:.40} is no possible time")
    return at


def _read_odd(value: str, field: str) -> datetime:
    """The forms that Python's own reader refuses."""
    text = value.replace("\0", "").strip().upper()
    day, _, clock = text.partition("T") if "T" in text else text.partition(" ")
    late = timedelta(0)
    if clock.startswith("24:00"):
        clock, late = "00" + clock[2:], timedelta(days=1)
    elif clock[5:8] == ":60":
        clock, late = clock[:5] + ":59" + clock[8:], timedelta(seconds=1)
    try:
        return datetime.fromisoformat(f"{day.strip()}T{clock.strip()}") + late
    except (ValueError, OverflowError):
        raise Unreadable(field, f"{value!r:.40} {_ADVICE}") from None


def write_time(at: datetime) -> str:
    """E.g. `2024-05-01T08:00:00.000Z`; `at` must be aware."""
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.") + f"{at.microsecond // 1000:03d}Z"
