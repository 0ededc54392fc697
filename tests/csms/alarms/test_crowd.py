"""When it is the network and not the chargers."""

import pytest

from csms.alarms.crowd import is_crowd


@pytest.mark.parametrize(
    ("lost", "total", "crowd"), [(2, 2, False), (3, 9, True), (3, 10, False), (8, 24, True), (7, 24, False)]
)
def test_a_third_at_once_but_never_fewer_than_three(lost: int, total: int, crowd: bool) -> None:
    assert is_crowd(lost, total) is crowd
