"""From a problem to a solution: least cost; if needs are not met, fairly; mended; least cost once more."""

import numpy as np

from csms.errors import OurFault
from csms.power.planner.layout import Floats, Layout, lay_out
from csms.power.planner.pattern import pattern
from csms.power.planner.problem import Problem, Solution
from csms.power.planner.program import Program
from csms.power.planner.repair import Repair
from csms.power.planner.shortfall import NOTHING_KWH, SLACK_KWH, share_shortfall

PROOF_A = 1e-4


def optimise(problem: Problem) -> Solution:
    """The plan. Raises OurFault when it would break a limit, ModuleNotFoundError without the solver."""
    layout = lay_out(problem)
    if not layout.window.any():
        slots = tuple(0.0 for _ in problem.hours)
        return Solution(
            current_a={car.id: slots for car in problem.cars},
            short_wh={car.id: car.need_wh for car in problem.cars},
        )
    program = Program(layout)
    complete = program.cheapest()
    if not complete:
        raise OurFault(f"no plan within {problem.time_limit_s:g} s")
    amps, short = program.amps, program.short
    if float(short[~layout.eager].sum()) > NOTHING_KWH:
        complete = share_shortfall(program) and program.cheapest()
        if complete:
            amps, short = program.amps, program.short
    program.short_at_most(np.arange(len(short)), short + SLACK_KWH)
    program.hold(pattern(layout, amps), np.zeros(len(short)))
    if program.cheapest():
        amps = program.amps
    mended = Repair(layout, amps)
    mended.run(program.short_most)
    missing = layout.need - mended.energy()
    program.hold(mended.amps > 0, np.maximum(0.0, -missing) + SLACK_KWH)
    if program.cheapest():
        amps = program.amps
    else:
        amps, complete = mended.amps, False
    prove(layout, amps)
    left = np.maximum(0.0, layout.need - (amps * layout.kwh).sum(axis=1)) * 1000.0
    ids = [car.id for car in problem.cars]
    return Solution(
        current_a={id: tuple(row) for id, row in zip(ids, np.round(amps, 6).tolist(), strict=True)},
        short_wh={id: round(kwh, 1) for id, kwh in zip(ids, left.tolist(), strict=True)},
        complete=complete,
    )


def prove(layout: Layout, amps: Floats) -> None:
    """The certificate: no slot passes a limit, and nobody is told what no car can follow. OurFault else.

    Limits are looked at as they are (the length of the phasor sum), not as the programme had them.
    """
    rows: dict[int, Floats] = {}
    for c, car in enumerate(layout.problem.cars):
        for row, value in car.path:
            if row in layout.problem.heads:
                rows[row] = rows.get(row, 0.0) + value * amps[c]
    for row, used in rows.items():
        head = np.maximum(0.0, np.array(layout.problem.heads[row]))
        scale = np.maximum(1.0, head) if np.isfinite(head).all() else 1.0
        if ((np.abs(used) - head) / scale > PROOF_A).any():
            raise OurFault(f"the plan would pass the limit of row {row}")
    told = amps > 1e-9
    low, high = layout.low[:, None], layout.high[:, None]
    if (told & ((amps < low - PROOF_A) | (amps > high + PROOF_A) | ~layout.window)).any():
        raise OurFault("the plan would tell a car a current that it cannot follow")
