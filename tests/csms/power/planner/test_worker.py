"""The process that plans, without a process: messages in, messages out."""

import builtins
import io
import pickle
import sys
from collections.abc import Callable
from typing import Any

import pytest

from csms.power.planner.problem import PlannedCar, Problem, Solution
from csms.power.planner.worker import LENGTH, answer, framed, serve

Car = Callable[..., PlannedCar]
Make = Callable[..., Problem]


def test_it_answers_each_problem_in_turn_until_its_parent_is_gone(car: Car, problem: Make) -> None:
    asked = problem(car("a"))
    sink = io.BytesIO()
    serve(io.BytesIO(framed(asked) + framed(problem()) + b"\0\0"), sink)
    sink.seek(0)
    found = []
    while head := sink.read(LENGTH):
        found.append(pickle.loads(sink.read(int.from_bytes(head))))
    assert [type(each) for each in found] == [Solution, Solution]
    assert sum(found[0].current_a["a"]) == pytest.approx(5_520 / 690 / 0.25)
    assert found[1].current_a == {}


def test_a_problem_that_fails_is_a_text_and_not_the_end(car: Car, problem: Make) -> None:
    found = answer(problem(car("a"), time_limit_s=-1.0))
    assert isinstance(found, str)
    assert "no plan within" in found


def test_without_the_solver_it_says_what_to_install(
    car: Car, problem: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = builtins.__import__

    def refuse(name: str, *rest: Any) -> Any:
        if name == "highspy":
            raise ModuleNotFoundError("No module named 'highspy'", name="highspy")
        return real(name, *rest)

    monkeypatch.setattr(builtins, "__import__", refuse)
    monkeypatch.delitem(sys.modules, "highspy", raising=False)
    found = answer(problem(car("a")))
    assert found == "plans need a solver: install phaseyard[optimise] (highspy is missing)"
