"""The words of this block: each can be said by a station or to one, and none is forgotten in the unions."""

from csms.stations.words import needs
from tests.csms.stations.unions import forgotten, unspeakable


def test_every_word_is_part_of_another_or_of_a_union() -> None:
    assert forgotten(needs) == []


def test_every_word_of_a_choice_can_be_said_in_some_version() -> None:
    assert unspeakable(needs) == []
