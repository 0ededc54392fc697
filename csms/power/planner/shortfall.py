"""Who is short of how much when not every need can be met: lexicographic min-max.

Class by class, the highest first: the largest shortfall, as a share of what the car needs, is made as
small as it can be; who keeps it from being smaller (a dual) has that share and is settled; on with the
others. So nobody can be given more without somebody who is no better off getting less, and cost is
looked at only among plans that are as fair as this.
"""

import numpy as np

from csms.power.planner.program import How, Program

NOTHING_KWH = 1e-4
SLACK_KWH = 1e-6
ROUNDS_FROM_NOWHERE = 3
"""An interior point takes as long each time; the simplex takes long once, and then hardly any time."""


def share_shortfall(program: Program) -> bool:
    """Bound every shortfall by its fair share. False: time ran out; who is worst off is settled all the same.

    Leaves `program` to be solved for least cost. Cars without a told need are settled by cost alone.
    """
    layout, fair = program.layout, Program(program.layout, program.until)
    needy = np.nonzero(~layout.eager & (layout.need > 0))[0]
    priority = np.array([car.priority for car in layout.problem.cars])
    how, rounds = How.INTERIOR, 0
    for one in sorted(set(priority[needy].tolist()), reverse=True):
        left = needy[priority[needy] == one]
        while len(left):
            if rounds == ROUNDS_FROM_NOWHERE:  # in a solver of its own: one that has done both has crashed
                fair, how = Program(layout, program.until), How.PRIMAL
                fair.short_at_most(np.arange(len(layout.need)), program.short_most)
            rounds += 1
            fair.bind(left, True)
            if not fair.lowest_level(how):
                return False
            level = fair.level
            settled = fair.priced(left) if level * layout.need[left].max() > NOTHING_KWH else left
            if not len(settled):
                settled = left
            fair.bind(settled, False)
            program.short_at_most(left, level * layout.need[left] + SLACK_KWH)
            fair.short_at_most(settled, level * layout.need[settled] + SLACK_KWH)
            left = np.setdiff1d(left, settled)
    return True
