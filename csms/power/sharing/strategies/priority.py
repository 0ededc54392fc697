"""Guaranteed minimum with priority: the minimum for all who fit, the rest class by class."""

from csms.power.sharing.demand import Demand
from csms.power.sharing.strategy import Rank, Strategy


def _class(demand: Demand) -> Rank:
    own = demand.share_class
    return -float(demand.priority if own is None else own), ""


PRIORITY = Strategy(
    name="priority",
    about="Every car that fits gets its minimum; the rest goes to the highest class first, by weight "
    "within a class.",
    rank=_class,
)
