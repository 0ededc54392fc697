"""Every event is in the list that the dispatcher is checked against."""

from typing import get_args

from csms.stations.events import EVENTS, Event


def test_the_list_is_the_union() -> None:
    assert set(EVENTS) == set(get_args(Event))
    assert len(EVENTS) == len(set(EVENTS))
