"""A building meter that falls silent, and tells again."""

from datetime import UTC, datetime

from csms.alarms.rules.meters import signs
from csms.alarms.signs import Begun, Over
from csms.store.fact import Fact

AT = datetime(2026, 11, 2, 11, tzinfo=UTC)


def test_silent_and_back() -> None:
    (begun,) = signs(Fact(topic="meter.silent", at=AT, subject="supply", body={"problem": "no route"}))
    assert begun == Begun(
        kind="meter_silent", thing="supply", circuit_id="supply", detail={"problem": "no route"}
    )
    assert signs(Fact(topic="meter.back", at=AT, subject="supply")) == (
        Over(frozenset({"meter_silent"}), "supply"),
    )
    assert signs(Fact(topic="circuit.changed", at=AT, subject="supply")) == ()
