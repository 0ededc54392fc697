"""The process that plans: reads a problem, writes its solution, until nobody reads any more.

A message is its length (8 bytes) and a pickle. Pickles are read from the process that started this one, and
from nobody else. HiGHS prints to standard output from C, so answers go to a copy of it, and what is printed
goes nowhere.
"""

import os
import pickle
import sys
from typing import BinaryIO

from csms.power.planner.problem import Problem, Solution

LENGTH = 8
NICE = 5


def answer(problem: Problem) -> Solution | str:
    """The solution, or why there is none."""
    try:
        from csms.power.planner.optimise import optimise
    except ModuleNotFoundError as error:
        return f"plans need a solver: install phaseyard[optimise] ({error.name} is missing)"
    try:
        return optimise(problem)
    except ModuleNotFoundError as error:
        return f"plans need a solver: install phaseyard[optimise] ({error.name} is missing)"
    except Exception as error:  # whatever it is, the next problem may be fine
        return f"{type(error).__name__}: {error}"


def framed(value: object) -> bytes:
    """A message."""
    body = pickle.dumps(value, protocol=pickle.HIGHEST_PROTOCOL)
    return len(body).to_bytes(LENGTH) + body


def serve(source: BinaryIO, sink: BinaryIO) -> None:
    """Answer until `source` ends."""
    while len(head := source.read(LENGTH)) == LENGTH:
        body = source.read(int.from_bytes(head))
        sink.write(framed(answer(pickle.loads(body))))  # noqa: S301 - our own parent's
        sink.flush()


def main() -> None:
    """Over standard input and output."""
    answers = os.dup(1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    if hasattr(os, "nice"):
        os.nice(NICE)
    with os.fdopen(answers, "wb") as sink:
        serve(sys.stdin.buffer, sink)


if __name__ == "__main__":
    main()
