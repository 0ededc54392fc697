"""Cars that tell what they need and when they leave, and the product's planner that is asked then.

A new plan when a car has come and at every quarter of an hour, a few seconds late, as the product's is. What
the building will draw is forecast from the days before those simulated.
"""

import math
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Final

from csms.power.planner.forecast import BaseSample, forecast
from csms.power.planner.gather import gather
from csms.power.planner.need import Goal, Source
from csms.power.planner.optimise import optimise
from csms.power.planner.prices import per_slot
from csms.power.planner.problem import Solution
from csms.power.planner.schedule import site_plan
from csms.power.planner.slots import slots_from
from csms.power.steering.planned import SitePlan
from csms.power.steering.state import SiteState
from tools.simulation.description import Description
from tools.simulation.load import changes
from tools.simulation.places import Place
from tools.simulation.server import Server, evse_of
from tools.simulation.timeline import Timeline

QUARTER_S: Final = 900.0
TAKES_S: Final = 5.0
"""From the wish to the plan: joining and solving."""
VALID_S: Final = 1800.0
HISTORY_DAYS: Final = 14
QUANTILE: Final = 0.9


class Planning:
    """`hear` is called when there is a new plan; without `description.planned` nothing happens."""

    def __init__(
        self,
        description: Description,
        timeline: Timeline,
        server: Server,
        places: Iterable[Place],
        hear: Callable[[], None],
    ) -> None:
        self._description = description
        self._timeline = timeline
        self._server = server
        self._places = places
        self._hear = hear
        self._samples = _history(description) if description.planned else []
        self._asked = False
        self.plans = 0

    def start(self) -> None:
        if self._description.planned:
            self._quarter()

    def ask(self) -> None:
        """Plan soon; wishes within a few seconds are one."""
        if self._description.planned and not self._asked:
            self._asked = True
            self._timeline.after(TAKES_S, self._plan)

    def _quarter(self) -> None:
        self._timeline.after(QUARTER_S, self._quarter)
        self.ask()

    def _plan(self) -> None:
        self._asked = False
        controller = self._server.controller
        if controller is not None:
            self.plans += 1
            controller.planned(self._made(controller.state))
            self._hear()

    def _made(self, state: SiteState) -> SitePlan:
        now = self._timeline.now()
        slots = slots_from(now)
        goals = {}
        for n, place in enumerate(self._places):
            evse, stay = evse_of(place.station.id), place.stay
            charge = state.bays[evse].charge
            if stay is None or charge is None or charge.transaction != stay.transaction:
                continue
            goals[evse] = (
                n,
                Goal(
                    energy_wh=stay.need_wh,
                    left_wh=max(0.0, stay.need_wh - charge.energy_wh),
                    departure=stay.arrival.visit.departs_at.astimezone(UTC),
                    energy_from=Source.PERSON,
                    departure_from=Source.PERSON,
                ),
            )
        expected = forecast(state.network.installation, self._samples, slots, quantile=QUANTILE)
        prices = per_slot(slots, None)
        gathered = gather(state, goals, slots, prices, expected, now, time_limit_s=10.0)
        solution = optimise(gathered.problem) if gathered.problem.cars else Solution()
        return site_plan(gathered, solution, now, VALID_S)


def _history(description: Description) -> list[BaseSample]:
    """The highest load of every quarter of an hour of the days before."""
    before = replace(
        description,
        first_day=description.first_day - timedelta(days=HISTORY_DAYS),
        days=HISTORY_DAYS,
        seed=description.seed + 1,
    )
    found = []
    for load in description.loads:
        highest: dict[int, list[float]] = {}
        series = changes(before, load)
        ends = [change.at_s for change in series[1:]] + [before.ends_s]
        for change, end_s in zip(series, ends, strict=True):
            first = int((change.at_s - before.starts_s) // QUARTER_S)
            last = math.ceil((end_s - before.starts_s) / QUARTER_S)
            for quarter in range(first, last):
                so_far = highest.setdefault(quarter, [0.0, 0.0, 0.0])
                for line in range(3):
                    so_far[line] = max(so_far[line], abs(change.line_a[line]))
        for quarter, (l1, l2, l3) in sorted(highest.items()):
            at = datetime.fromtimestamp(before.starts_s + quarter * QUARTER_S, UTC)
            found.append(BaseSample(load.circuit, at, (l1, l2, l3)))
    return found
