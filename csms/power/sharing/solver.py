"""The linear-programming solver (HiGHS), fetched only when it is needed and kept silent.

Its first object in a process writes a banner to standard output from C, whatever the flags, and through
C's buffer: it would end up in the middle of a command's JSON. So file descriptor 1 is elsewhere meanwhile.
"""

import ctypes
import os
import sys
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import highspy

TIGHT = 1e-9
"""Feasibility of rows and of reduced costs: far below 0.01 A."""


def new_solver() -> "highspy.Highs":
    """A silent HiGHS with tight tolerances and one thread.

    ModuleNotFoundError without phaseyard[optimise].
    """
    _say_the_banner_elsewhere()
    import highspy

    solver = highspy.Highs()  # type: ignore[no-untyped-call]
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("primal_feasibility_tolerance", TIGHT)
    solver.setOptionValue("dual_feasibility_tolerance", TIGHT)
    return solver


@cache
def _say_the_banner_elsewhere() -> None:
    import highspy

    flush = ctypes.CDLL(None).fflush if os.name == "posix" else lambda _: None
    sys.stdout.flush()
    flush(None)
    kept = os.dup(1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        highspy.Highs()  # type: ignore[no-untyped-call]
        flush(None)
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
