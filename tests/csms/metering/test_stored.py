"""A stored reading is a reading with a place."""

from datetime import UTC, datetime

from csms.metering.stored import StoredReading
from csms.stations.model import Reading


def test_a_stored_reading_keeps_the_reading() -> None:
    reading = Reading(at=datetime(2026, 11, 2, tzinfo=UTC), register_wh=5)
    assert StoredReading(1, "YARD-01", 1, None, reading).reading is reading
