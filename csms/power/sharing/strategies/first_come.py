"""First come, first served: who has been connected longest takes all it can, then the next.

Nobody takes turns: a car that has begun goes on until it is full. Everybody who fits still has the
minimum, as a car that is woken late may not wake at all.
"""

from dataclasses import replace

from csms.power.sharing.demand import Demand
from csms.power.sharing.strategy import Rank, Strategy


def _by_arrival(demand: Demand) -> Demand:
    return replace(demand, waiting_s=demand.connected_s, keeps_turn=False, energy_served_wh=0.0, weight=1.0)


def _arrival(demand: Demand) -> Rank:
    return -demand.connected_s, demand.id


FIRST_COME = Strategy(
    name="first_come",
    about="Every car that fits gets its minimum; the rest goes to the car that has been here longest, "
    "then to the next.",
    sees=_by_arrival,
    rank=_arrival,
)
