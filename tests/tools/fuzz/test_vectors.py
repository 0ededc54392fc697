import pytest

from csms.ocpp.adapter import adapter_for
from csms.ocpp.version import Version
from tools.fuzz.vectors import recorded


@pytest.mark.parametrize("version", list(Version))
def test_every_action_of_a_station_is_among_them(version: Version) -> None:
    told = recorded(version)
    missing = set(adapter_for(version).inbound_actions) - {action for action, _ in told.calls}
    assert missing == set()
    assert len(told.answers) > 20
