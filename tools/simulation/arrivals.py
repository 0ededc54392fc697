"""Which cars come when: those of the description, and those that the mobility model draws."""

from dataclasses import dataclass, replace
from random import Random
from typing import Final

from tools.simulation.description import Description, Use, Visit
from tools.simulator.car import Car, CarModel
from tools.weavers_yard.arrivals import stays
from tools.weavers_yard.people import CARS, VAN

MODELS: Final[tuple[CarModel, ...]] = (*CARS, VAN)
VAN_MODEL: Final = len(CARS)
LOWEST_SOC: Final = 0.05
SLEEPS_AFTER_S: Final = 900.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """A visit with its car's model as it is this time, and its state of charge when it comes."""

    visit: Visit
    model: CarModel
    soc: float
    priority: int

    @property
    def arrives_s(self) -> float:
        return self.visit.arrives_at.timestamp()

    @property
    def departs_s(self) -> float:
        return self.visit.departs_at.timestamp()

    def car(self, random: Random) -> Car:
        return Car(self.model, soc=self.soc, random=random)


def arrivals(description: Description) -> list[Arrival]:
    """All cars, by arrival. Equal descriptions give equal cars."""
    given = description.arrivals
    random = Random(f"{description.seed} cars")
    visits = [*given.visits, *_drawn(description)]
    found = []
    for visit in sorted(visits, key=lambda v: (v.arrives_at, v.model, v.energy_wh)):
        model = MODELS[visit.model]
        model = replace(model, ignores_pilot=random.random() < given.ignoring)
        if random.random() < given.sleepy:
            model = replace(model, sleeps_after_s=SLEEPS_AFTER_S)
        needed = visit.energy_wh * model.efficiency / model.battery_wh
        priority = given.van_priority if visit.use is Use.VANS else 0
        soc = max(LOWEST_SOC, 1 - needed)
        found.append(Arrival(visit=visit, model=model, soc=soc, priority=priority))
    ends_s = description.ends_s
    return [a for a in found if description.starts_s <= a.arrives_s < ends_s - 60]


def _drawn(description: Description) -> list[Visit]:
    given = description.arrivals
    if not given.cars and not given.vans:
        return []
    drawn = stays(
        description.first_day,
        description.days,
        description.zone,
        cars=given.cars,
        vans=given.vans,
        seed=description.seed,
    )
    return [
        Visit(
            model=VAN_MODEL if stay.is_van else stay.vehicle % len(CARS),
            arrives_at=stay.arrives_at,
            departs_at=stay.departs_at,
            energy_wh=stay.energy_wh * given.energy_factor,
            use=Use.VANS if stay.is_van else Use.CARS,
            bay=stay.vehicle,
        )
        for stay in drawn
    ]
