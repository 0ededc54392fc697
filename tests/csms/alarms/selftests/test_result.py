"""When a test is due."""

from datetime import UTC, datetime, timedelta

from csms.alarms.selftests.result import SelfTest, TestSource, due_at

CREATED = datetime(2026, 1, 1, tzinfo=UTC)


def test_a_charger_tests_each_day_and_a_person_twice_a_year() -> None:
    done = datetime(2026, 5, 1, 8, tzinfo=UTC)
    by_itself = SelfTest(station_id="YARD-01", at=done, passed=True, source=TestSource.CHARGER)
    assert due_at(by_itself, CREATED) - done == timedelta(hours=26)
    by_hand = SelfTest(station_id="YARD-01", at=done, passed=True, source=TestSource.PERSON)
    assert timedelta(days=180) < due_at(by_hand, CREATED) - done < timedelta(days=190)
    assert due_at(None, CREATED) == CREATED + timedelta(days=184)
