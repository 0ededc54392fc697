"""Facts are values."""

from datetime import UTC, datetime

from csms.store.fact import Fact


def test_a_fact_is_equal_to_its_like() -> None:
    at = datetime(2026, 11, 2, 11, tzinfo=UTC)
    fact = Fact(topic="session.ended", at=at, subject="41", body={"energy_wh": 7})
    assert fact == Fact(topic="session.ended", at=at, subject="41", body={"energy_wh": 7})
    assert (fact.site_id, Fact(topic="a", at=at).body) == (None, {})
