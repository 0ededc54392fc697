"""Names as people look for them."""

from api.web.order import natural


def test_numbers_count_as_numbers_and_case_does_not() -> None:
    names = ["Flat 10", "flat 2", "Flat 1", "Court2", "Court 12b", "Court 12", "Court 2", "Court"]
    assert sorted(names, key=natural) == [
        "Court",
        "Court2",
        "Court 2",
        "Court 12",
        "Court 12b",
        "Flat 1",
        "flat 2",
        "Flat 10",
    ]


def test_equal_but_for_case_are_equal_and_empty_comes_first() -> None:
    assert natural("MILL 3") == natural("mill 3")
    assert sorted(["a", "7", ""], key=natural) == ["", "7", "a"]
