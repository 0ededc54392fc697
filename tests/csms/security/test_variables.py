"""Where stations keep what belongs to security."""

import pytest

from csms.security.variables import key_path, new_priority, profile_path


def test_by_version() -> None:
    assert key_path("1.6") == "/AuthorizationKey"
    assert {key_path("2.0.1"), key_path("2.1")} == {"SecurityCtrlr/BasicAuthPassword"}
    assert (profile_path("1.6"), profile_path("2.1")) == ("/SecurityProfile", "SecurityCtrlr/SecurityProfile")


@pytest.mark.parametrize(
    ("now", "slot", "priority"), [(None, 2, "2,1"), ("1", 2, "2,1"), ("2, 1", 3, "3,2,1"), ("3", 1, "1,3")]
)
def test_a_free_slot_goes_in_front(now: str | None, slot: int, priority: str) -> None:
    assert new_priority(now) == (slot, priority)
