"""From a problem to a solution: least cost; if needs are not met, fairly; mended; least cost once more."""

import numpy as np

from csms.errors import OurFault
from csms.power.planner.blocks import LENGTHS, block_edges, in_blocks, in_slots
from csms.power.planner.layout import Floats, Layout, lay_out
from csms.power.planner.pattern import pattern
from csms.power.planner.problem import Problem, Solution
from csms.power.planner.program import Program
from csms.power.planner.repair import Repair, starts_of
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
    choices = [amps]
    if float(short[~layout.eager].sum()) > NOTHING_KWH:
        complete = share_shortfall(program)
        if program.cheapest():
            choices, short = [program.amps], program.short
    elif problem.start_cost > 0:
        longer = [_in_blocks(program, short, length) for length in LENGTHS]
        choices += [amps for amps in longer if amps is not None]
    program.short_at_most(np.arange(len(short)), short + SLACK_KWH)
    found = [_mended(program, amps) for amps in choices]
    amps, in_time = min(found, key=lambda each: _worth(layout, each[0]))
    complete = complete and in_time
    prove(layout, amps)
    left = np.maximum(0.0, layout.need - (amps * layout.kwh).sum(axis=1)) * 1000.0
    ids = [car.id for car in problem.cars]
    return Solution(
        current_a={id: tuple(row) for id, row in zip(ids, np.round(amps, 6).tolist(), strict=True)},
        short_wh={id: round(kwh, 1) for id, kwh in zip(ids, left.tolist(), strict=True)},
        complete=complete,
    )


def _in_blocks(fine: Program, short: Floats, length: int) -> Floats | None:
    """Currents that change by the block; None: there is no time, or nobody is there for so long."""
    problem = fine.layout.problem
    edges = block_edges(problem, length)
    blocks = lay_out(in_blocks(problem, edges))
    if not blocks.window.any():
        return None
    program = Program(blocks, fine.until)
    program.short_at_most(np.arange(len(short)), short + SLACK_KWH)
    program.allow_excess()
    return in_slots(program.amps, edges) if program.cheapest() else None


def _mended(program: Program, amps: Floats) -> tuple[Floats, bool]:
    """Currents near `amps` that cars can be told; False: time ran out, and they are not the cheapest."""
    layout = program.layout
    program.hold(pattern(layout, amps), np.zeros(len(layout.need)))
    if program.cheapest():
        amps = program.amps
    mended = Repair(layout, amps)
    mended.run(program.short_most)
    missing = layout.need - mended.energy()
    program.hold(mended.amps > 0, np.maximum(0.0, -missing) + SLACK_KWH)
    return (program.amps, True) if program.cheapest() else (mended.amps, False)


def _worth(layout: Layout, amps: Floats) -> tuple[float, float]:
    """(kWh missing of told needs, cost with starts): less is better."""
    kwh = amps * layout.kwh
    missing = np.maximum(0.0, layout.need - kwh.sum(axis=1))[~layout.eager].sum()
    starts = sum(starts_of(amps[c], car.running) for c, car in enumerate(layout.problem.cars))
    return round(float(missing), 3), float((kwh * layout.price).sum()) + starts * layout.problem.start_cost


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
