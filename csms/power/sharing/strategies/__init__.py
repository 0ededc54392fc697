"""Ways to share one supply. To add one: a file here and a line below; the same limits hold for all.

Every test of the allocator's limits and certificate runs over this list.
"""

from csms.errors import InvalidInput
from csms.power.sharing.strategies.equal import EQUAL
from csms.power.sharing.strategies.first_come import FIRST_COME
from csms.power.sharing.strategies.planned import PLANNED
from csms.power.sharing.strategies.priority import PRIORITY
from csms.power.sharing.strategies.weighted import WEIGHTED
from csms.power.sharing.strategy import Strategy

__all__ = ["EQUAL", "FIRST_COME", "PLANNED", "PRIORITY", "STRATEGIES", "WEIGHTED", "strategy_named"]

STRATEGIES: tuple[Strategy, ...] = (WEIGHTED, EQUAL, FIRST_COME, PRIORITY, PLANNED)


def strategy_named(name: str) -> Strategy:
    """The strategy of that name. InvalidInput: there is none."""
    for strategy in STRATEGIES:
        if strategy.name == name:
            return strategy
    raise InvalidInput("strategy", f"must be one of {', '.join(s.name for s in STRATEGIES)}, not {name!r}")
