"""Every question is in the list that the dispatcher is checked against, and none is an event."""

from typing import get_args

from csms.stations.events import EVENTS
from csms.stations.questions import QUESTIONS, Question


def test_the_list_is_the_union() -> None:
    assert set(QUESTIONS) == set(get_args(Question))
    assert not set(QUESTIONS) & set(EVENTS)
