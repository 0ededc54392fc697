"""A problem and its solution survive the way to another process."""

import pickle
from collections.abc import Callable
from typing import Any

from csms.power.planner.problem import Solution


def test_they_are_plain_values(car: Callable[..., Any], problem: Callable[..., Any]) -> None:
    asked = problem(car("a"), car("b", (1,), eager=True))
    assert pickle.loads(pickle.dumps(asked)) == asked
    answer = Solution(current_a={"a": (0.0, 6.0)}, short_wh={"a": 12.5}, complete=False)
    assert pickle.loads(pickle.dumps(answer)) == answer
    assert asked.cars[0].min_a == 6.0, "the lowest current of IEC 61851-1"
