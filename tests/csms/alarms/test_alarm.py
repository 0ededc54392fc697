"""The table of an alarm's life, every pair."""

import itertools

import pytest

from csms.alarms.alarm import OPEN, STANDING, TRANSITIONS, AlarmEvent, AlarmState, Severity, follow
from csms.errors import Conflict


@pytest.mark.parametrize(("state", "event"), list(itertools.product(AlarmState, AlarmEvent)))
def test_every_pair_leads_somewhere_or_is_refused(state: AlarmState, event: AlarmEvent) -> None:
    if (state, event) in TRANSITIONS:
        assert follow(state, event) is TRANSITIONS[state, event]
    else:
        with pytest.raises(Conflict, match=f"{state.value} takes no {event.value}"):
            follow(state, event)


def test_what_is_raised_ends_only_by_an_end() -> None:
    for state in STANDING:
        leads_out = {
            event for (start, event), end in TRANSITIONS.items() if start is state and end not in OPEN
        }
        assert leads_out == {AlarmEvent.CLEAR}


def test_severities_rise() -> None:
    assert [each.rank for each in (Severity.NOTICE, Severity.WARNING, Severity.URGENT)] == [0, 1, 2]
