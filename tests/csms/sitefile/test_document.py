"""YAML or not, and where it stops being it."""

import pytest
import yaml

from csms.sitefile.document import LONGEST_TEXT, compose, place_of
from csms.sitefile.places import Fault, Place


def test_nodes_know_their_line_and_column_from_one() -> None:
    root = compose("site:\n  id: yard\n")
    assert isinstance(root, yaml.MappingNode)
    inner = root.value[0][1].value[0][1]
    assert (inner.value, place_of(inner)) == ("yard", Place(2, 7))


@pytest.mark.parametrize(
    ("text", "place", "said"),
    [
        ("a: [1,", Place(1, 7), "is not YAML"),
        ("a: 1\n\tb: 2", Place(2, 1), "is not YAML"),
        ("a: 1\n---\nb: 2", Place(2, 1), "is not YAML"),
        ("a: \x07", Place(1, 1), "is not YAML"),
        ("a: *nobody", Place(1, 4), "is not YAML"),
        ("", Place(1, 1), "is empty"),
        ("# only a remark", Place(1, 1), "is empty"),
        ("[" * 5000, Place(1, 1), "is nested too deeply"),
        ("#" * (LONGEST_TEXT + 1), Place(1, 1), "characters"),
    ],
)
def test_what_cannot_be_read_says_where(text: str, place: Place, said: str) -> None:
    fault = compose(text)
    assert isinstance(fault, Fault)
    assert fault.place == place
    assert said in fault.problem


def test_nothing_is_made_of_what_a_file_asks_for() -> None:
    root = compose("a: !!python/object/apply:os.getcwd []")
    assert isinstance(root, yaml.MappingNode)
    assert isinstance(root.value[0][1], yaml.SequenceNode)
