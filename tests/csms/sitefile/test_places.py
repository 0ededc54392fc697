"""Places, and the nearest one that is known."""

import pytest

from csms.sitefile.places import TOP, Fault, Place, nearest

PLACES = {"": TOP, "circuits": Place(3, 1), "circuits[1]": Place(5, 5), "circuits[1].limit_a": Place(6, 14)}


@pytest.mark.parametrize(
    ("path", "place"),
    [
        ("circuits[1].limit_a", Place(6, 14)),
        ("circuits[1].limit_a.L1", Place(6, 14)),
        ("circuits[1].device_a", Place(5, 5)),
        ("circuits[0].limit_a.L1", Place(3, 1)),
        ("stations[0]", TOP),
        ("", TOP),
    ],
)
def test_what_has_no_place_of_its_own_has_that_of_what_it_is_part_of(path: str, place: Place) -> None:
    assert nearest(PLACES, path) == place


def test_a_fault_names_its_path_and_a_place_its_line_and_column() -> None:
    assert str(Fault(Place(3, 7), "site.id", "must not be empty")) == "site.id: must not be empty"
    assert str(Fault(TOP, "", "is empty")) == "is empty"
    assert str(Place(3, 7)) == "3:7"
    assert sorted([Place(10, 1), Place(2, 9), Place(2, 3)]) == [Place(2, 3), Place(2, 9), Place(10, 1)]
