"""Planned: each car's target from the plan is its maximum; the shares below it are by weight.

A plan never overrides a limit: it only asks for less. A target below the minimum means not now. A car
without a target is shared as if there were no plan.
"""

from dataclasses import replace

from csms.power.sharing.demand import BoundKind, Demand
from csms.power.sharing.strategy import Strategy


def _to_target(demand: Demand) -> Demand:
    target = demand.plan_a
    if target is None or target >= demand.max_a:
        return demand
    if demand.held:  # it may draw its minimum whatever we say
        target = max(target, demand.min_a)
    return replace(demand, max_a=target, maximum_is=BoundKind.PLAN)


PLANNED = Strategy(
    name="planned",
    about="Every car gets what the plan says for this hour; where that does not fit, by weight.",
    sees=_to_target,
)
