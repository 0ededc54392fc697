"""Times of a station whose clock was never set, or is ahead of ours.

A clock that is behind by less than years cannot be told from a station that was offline, so only
what cannot be is mended: times before any such station was made, and times to come. The first
such time is taken to be the moment it arrived; the distance is kept for what follows, so that
the order and the lengths of a replay survive.
"""

from dataclasses import replace
from datetime import datetime, timedelta

from csms.stations.model import Reading
from csms.stations.presence import OLDEST_CLOCK
from csms.stations.questions import TransactionReported

AHEAD = timedelta(minutes=5)
"""How far ahead of ours a station's clock may be (common practice)."""


def is_right(at: datetime, now: datetime) -> bool:
    """Whether a station's time can be true."""
    return OLDEST_CLOCK <= at <= now + AHEAD


def offset_for(latest: datetime, offset: timedelta | None, now: datetime) -> timedelta | None:
    """What to add to a station's times, given the latest of a message; None when they are right."""
    if is_right(latest, now):
        return None
    if offset is not None and is_right(latest + offset, now):
        return offset
    return now - latest


def mend_readings(
    readings: tuple[Reading, ...], offset: timedelta | None, now: datetime
) -> tuple[tuple[Reading, ...], timedelta | None]:
    """Readings with true times, and the offset to keep for the station's next message."""
    if not readings or all(is_right(reading.at, now) for reading in readings):
        return readings, None
    wrong = [reading.at for reading in readings if not is_right(reading.at, now)]
    offset = offset_for(max(wrong), offset, now)
    return tuple(_shifted(reading, offset, now) for reading in readings), offset


def mend_report(
    report: TransactionReported, offset: timedelta | None, now: datetime
) -> tuple[TransactionReported, timedelta | None]:
    """A step with true times, and the offset to keep for the station's next message."""
    times = [report.at, *(reading.at for reading in report.readings)]
    wrong = [at for at in times if not is_right(at, now)]
    if not wrong:
        return report, None
    offset = offset_for(max(wrong), offset, now)
    assert offset is not None
    at = report.at if is_right(report.at, now) else report.at + offset
    readings = tuple(_shifted(reading, offset, now) for reading in report.readings)
    return replace(report, at=at, readings=readings), offset


def _shifted(reading: Reading, offset: timedelta | None, now: datetime) -> Reading:
    if offset is None or is_right(reading.at, now):
        return reading
    return replace(reading, at=reading.at + offset)
