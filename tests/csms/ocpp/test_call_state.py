import itertools

import pytest

from csms.errors import OurFault
from csms.ocpp.call_state import TRANSITIONS, CallEvent, CallState, after, allowed

LEGAL = {
    "queued": {"send": "sent", "deadline": "expired", "close": "dropped"},
    "sent": {"result": "answered", "error": "refused", "deadline": "timed_out", "close": "lost"},
    "timed_out": {"result": "answered_late", "error": "refused_late"},
}


@pytest.mark.parametrize(("state", "event"), list(itertools.product(CallState, CallEvent)))
def test_every_pair(state: CallState, event: CallEvent) -> None:
    expected = LEGAL.get(state.value, {}).get(event.value)
    assert allowed(state, event) is (expected is not None)
    if expected is None:
        with pytest.raises(OurFault, match=state.value):
            after(state, event)
    else:
        assert after(state, event).value == expected


def test_every_state_can_be_reached() -> None:
    assert {CallState.QUEUED, *TRANSITIONS.values()} == set(CallState)
