"""Times of a station whose clock is wrong."""

from datetime import UTC, datetime, timedelta

from csms.sessions.station_clock import is_right, mend_readings, mend_report, offset_for
from csms.stations.model import Reading
from csms.stations.questions import TransactionReported, TransactionStep

NOW = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MINUTE = timedelta(minutes=1)


def report(at: datetime, *readings: Reading) -> TransactionReported:
    return TransactionReported(step=TransactionStep.BEGAN, transaction_id=None, at=at, readings=readings)


def test_what_can_be_true() -> None:
    assert is_right(NOW - timedelta(days=400), NOW)
    assert is_right(NOW + 4 * MINUTE, NOW)
    assert not is_right(NOW + 6 * MINUTE, NOW)
    assert not is_right(EPOCH, NOW)
    assert not is_right(datetime(2000, 1, 1, 0, 3, tzinfo=UTC), NOW)


def test_the_latest_wrong_time_is_now_and_the_distance_is_kept() -> None:
    offset = offset_for(EPOCH, None, NOW)
    assert offset == NOW - EPOCH
    assert offset_for(EPOCH + 5 * MINUTE, offset, NOW + 7 * MINUTE) == offset
    assert offset_for(NOW, offset, NOW) is None
    # A replay of hours cannot lie in the future: then the distance is taken anew.
    assert offset_for(EPOCH + 90 * MINUTE, offset, NOW) == NOW - (EPOCH + 90 * MINUTE)


def test_right_times_are_left_alone() -> None:
    step = report(NOW - MINUTE, Reading(at=NOW))
    assert mend_report(step, timedelta(days=9), NOW) == (step, None)
    assert mend_readings(step.readings, None, NOW) == (step.readings, None)
    assert mend_readings((), timedelta(days=9), NOW) == ((), None)


def test_a_message_keeps_its_lengths() -> None:
    readings = (Reading(at=EPOCH + MINUTE), Reading(at=EPOCH + 3 * MINUTE))
    mended, offset = mend_report(report(EPOCH, *readings), None, NOW)
    assert offset == NOW - (EPOCH + 3 * MINUTE)
    assert mended.at == NOW - 3 * MINUTE
    assert [reading.at for reading in mended.readings] == [NOW - 2 * MINUTE, NOW]
    times, same = mend_readings((Reading(at=EPOCH + 4 * MINUTE), Reading(at=NOW)), offset, NOW + MINUTE)
    assert same == offset
    assert [reading.at for reading in times] == [NOW + MINUTE, NOW]


def test_right_and_wrong_in_one_message() -> None:
    mended, offset = mend_report(report(NOW, Reading(at=EPOCH)), None, NOW)
    assert mended.at == NOW
    assert mended.readings[0].at == NOW
    assert offset == NOW - EPOCH
