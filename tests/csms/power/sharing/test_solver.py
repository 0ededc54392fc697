import subprocess
import sys

from csms.power.sharing.solver import new_solver

PROGRAMME = """
import sys
print('{"a":', flush=False, end="")
from csms.power.sharing.solver import new_solver
solver = new_solver()
solver.addVariable(0.0, 3.0, -1.0)
solver.run()
new_solver()
print(" %s}" % solver.getSolution().col_value[0])
"""


def test_nothing_but_our_own_words_reaches_standard_output() -> None:
    """The solver's banner would stand in the middle of a command's JSON."""
    ran = subprocess.run([sys.executable, "-c", PROGRAMME], capture_output=True, text=True, check=True)
    assert ran.stdout == '{"a": 3.0}\n'


def test_it_is_not_loaded_before_it_is_needed() -> None:
    programme = "import sys, csms.power.sharing.allocator; print('highspy' in sys.modules)"
    ran = subprocess.run([sys.executable, "-c", programme], capture_output=True, text=True, check=True)
    assert ran.stdout == "False\n"


def test_it_solves() -> None:
    solver = new_solver()
    x = solver.addVariable(0.0, 10.0)
    solver.addConstr(2 * x <= 8)
    solver.maximize(x)
    assert solver.getSolution().col_value == [4.0]
