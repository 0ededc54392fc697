"""Equal share: weights are not looked at."""

from dataclasses import replace

from csms.power.sharing.demand import Demand
from csms.power.sharing.strategy import Strategy


def _unweighted(demand: Demand) -> Demand:
    return demand if demand.weight == 1.0 else replace(demand, weight=1.0)


EQUAL = Strategy(
    name="equal", about="All cars share evenly, whatever the weights of their groups.", sees=_unweighted
)
