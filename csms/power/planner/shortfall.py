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


def share_shortfall(program: Program) -> bool:
    """Bound every shortfall by its fair share. False: time ran out, and the rest is not settled.

    Leaves `program` to be solved for least cost. Cars without a told need are settled by cost alone.
    """
    layout, fair = program.layout, Program(program.layout)
    needy = np.nonzero(~layout.eager & (layout.need > 0))[0]
    how = How.INTERIOR
    priority = np.array([car.priority for car in layout.problem.cars])
    for one in sorted(set(priority[needy].tolist()), reverse=True):
        left = needy[priority[needy] == one]
        while len(left):
            fair.bind(left, True)
            if not fair.lowest_level(how):
                fair.bind(left, False)
                return False
            level = fair.level
            settled = fair.priced(left) if level * layout.need[left].max() > NOTHING_KWH else left
            if not len(settled):
                settled = left
            fair.bind(settled, False)
            for one_of in (fair, program):
                one_of.short_at_most(settled, level * layout.need[settled] + SLACK_KWH)
            left = np.setdiff1d(left, settled)
    return True
