"""Cars that tell when they leave, and the product's planner in the simulation."""

from collections.abc import Callable
from dataclasses import replace

from tools.simulation.clairvoyant import best_wh
from tools.simulation.description import Description
from tools.simulation.world import simulate

Make = Callable[..., Description]
WICKET = 0
"""One line, 32 A."""


def test_who_leaves_soon_and_says_so_gets_more_than_an_even_share(make: Make) -> None:
    """Two cars on one line of 32 A, of which one leaves after two hours: alone that line has 64 Ah for it."""
    visits = (WICKET, 1.0, 6.0, 12.0), (WICKET, 1.0, 2.0, 12.0)
    energy_wh = {}
    for planned in (False, True):
        described = make(*visits, loads=(), planned=planned, idle_look_s=20.0)
        stations = tuple(s for s in described.stations if s.rotation[0] == 0 and s.circuit == "supply")
        assert len(stations) == 1
        two = (stations[0], described.stations[0])  # their cars are on L1 both
        found = simulate(replace(described, stations=two))
        late, early = sorted(found.stays, key=lambda stay: stay.ends_s, reverse=True)
        energy_wh[planned] = early.energy_wh
        # Near full it takes less than the planner knows of: not all of its need.
        assert late.energy_wh > 0.8 * late.need_wh
        assert early.energy_wh + late.energy_wh <= best_wh(described, found.stays) + 1
    assert energy_wh[False] < 1.1 * 16 * 230 * 2
    assert energy_wh[True] > 1.05 * energy_wh[False]
