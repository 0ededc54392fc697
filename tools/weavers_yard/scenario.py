"""Which car comes when to which bay with which card.

A day begins with an *opening* that shows the main job within seconds: more cars than the supply can serve
at once, a card nobody knows, a blocked one, and a person without a right to the bay. After it cars come and
go as `arrivals` drew them.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random
from typing import Final

from tools.simulator.car import CarModel
from tools.weavers_yard import people
from tools.weavers_yard.arrivals import Stay
from tools.weavers_yard.people import Driver
from tools.weavers_yard.site import GUEST_BAYS, RESIDENT_BAYS, VAN_BAYS

LOWEST_SOC: Final = 0.08
OPENING_STEP_S: Final = 2.0
OPENING_VANS: Final = 3
OPENING_THREE_LINE: Final = 6
OPENING_ONE_LINE: Final = 3
NO_DEPARTURE: Final = timedelta(days=3650)


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """A car comes to the first free one of `bays`, a card is held to it, and at `departs_at` the car leaves.

    `soc` is its state of charge on arrival, 0 to 1.
    """

    who: str
    card: str
    car: CarModel
    soc: float
    bays: tuple[str, ...]
    arrives_at: datetime
    departs_at: datetime


def bays_of(driver: Driver) -> tuple[str, ...]:
    if driver.car is people.VAN:
        return VAN_BAYS
    guests = {guest.member for guest in people.guests()}
    return GUEST_BAYS if driver.member in guests else RESIDENT_BAYS


def opening(starts_at: datetime, random: Random) -> list[Visit]:
    """Within the first minute: vans and cars that need 6 A on 11 places of every line, which 63 A cannot
    give.

    The one-line cars stand at bays with the three different wirings, so they load one line each.
    """
    residents = people.residents()
    three_line = [driver for driver in residents if driver.car.lines == 3][:OPENING_THREE_LINE]
    one_line = [driver for driver in residents if driver.car.lines == 1][:OPENING_ONE_LINE]
    guest = people.guests()[0]
    drivers = [*people.vans()[:OPENING_VANS], *one_line, guest, *three_line]
    places = [*VAN_BAYS[:OPENING_VANS], *RESIDENT_BAYS[:OPENING_ONE_LINE], GUEST_BAYS[0]]
    places += RESIDENT_BAYS[OPENING_ONE_LINE : OPENING_ONE_LINE + len(three_line)]
    visits = []
    for n, (driver, place) in enumerate(zip(drivers, places, strict=True)):
        at = starts_at + timedelta(seconds=OPENING_STEP_S * n)
        stay = timedelta(hours=random.uniform(1.5, 9))
        soc = random.uniform(0.15, 0.6)
        visits.append(_visit(driver, driver.card, soc, (place,), at, at + stay))
    return visits + refused(starts_at + timedelta(seconds=6))


def refused(at: datetime) -> list[Visit]:
    """Three who will not charge: an unknown card, a blocked card, and a card without a right to any bay."""
    stranger = Driver(member="Stranger", card=people.UNKNOWN_CARD, car=people.CARS[1])
    loser = people.flat(people.LOST_CARD_FLAT).name
    found = Driver(member=loser, card=people.card_of(loser, blocked=True), car=people.CARS[4])
    former = Driver(
        member=people.NO_RIGHTS.name, card=people.card_of(people.NO_RIGHTS.name), car=people.CARS[5]
    )
    trio = zip((stranger, found, former), (GUEST_BAYS[1], RESIDENT_BAYS[11], GUEST_BAYS[3]), strict=True)
    later = timedelta(hours=1)
    return [_visit(driver, driver.card, 0.4, (place,), at, at + later) for driver, place in trio]


def _visit(
    driver: Driver, card: str, soc: float, bays: tuple[str, ...], arrives_at: datetime, departs_at: datetime
) -> Visit:
    return Visit(
        who=driver.member,
        card=card,
        car=driver.car,
        soc=soc,
        bays=bays,
        arrives_at=arrives_at,
        departs_at=departs_at,
    )


def from_stays(stays: Iterable[Stay], after: datetime) -> list[Visit]:
    """The drawn stays that begin after the opening, as visits of residents and vans."""
    residents, vans = people.residents(), people.vans()
    visits = []
    for stay in stays:
        if stay.arrives_at <= after:
            continue
        drivers = vans if stay.is_van else residents
        driver = drivers[stay.vehicle % len(drivers)]
        needed = stay.energy_wh / driver.car.battery_wh
        soc = max(LOWEST_SOC, 1 - needed)
        visits.append(_visit(driver, driver.card, soc, bays_of(driver), stay.arrives_at, stay.departs_at))
    return visits


def scenario(starts_at: datetime, stays: Iterable[Stay], *, seed: int = people.SEED) -> list[Visit]:
    """The opening, and then the drawn days, by arrival. A person whose car is here does not come a second
    time with it."""
    first = opening(starts_at, Random(seed))
    leaves = {visit.who: visit.departs_at for visit in first}
    after = starts_at + timedelta(minutes=2)
    later = [v for v in from_stays(stays, after) if leaves.get(v.who, v.arrives_at) <= v.arrives_at]
    return sorted([*first, *later], key=lambda visit: visit.arrives_at)
