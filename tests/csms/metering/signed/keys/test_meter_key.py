from datetime import UTC, datetime, timedelta

from csms.metering.signed.keys.meter_key import KeyState, MeterKey
from tests.csms.metering.signed.meter import Meter

AT = datetime(2026, 11, 2, tzinfo=UTC)


def test_a_key_is_valid_from_inclusive_to_exclusive() -> None:
    key = MeterKey(id="k", serial="s", key=Meter().key, state=KeyState.CONFIRMED, created_at=AT)
    assert key.covers(AT)
    bound = MeterKey(
        id="k",
        serial="s",
        key=key.key,
        state=KeyState.CONFIRMED,
        valid_from=AT,
        valid_to=AT + timedelta(1),
        created_at=AT,
    )
    moments = [AT - timedelta(seconds=1), AT, AT + timedelta(1)]
    assert [bound.covers(at) for at in moments] == [False, True, False]
    assert key.key.fingerprint.startswith(key.short)
    assert len(key.short) == 16
