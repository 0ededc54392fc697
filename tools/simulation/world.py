"""The loop of events: time jumps from one to the next; nothing waits.

Everything random (delays, reactions, losses) comes from the description's seed, so equal descriptions
give equal runs.
"""

import asyncio
import math
from dataclasses import dataclass
from functools import partial
from random import Random
from typing import Final

from csms.power.installation import LINES
from csms.power.steering.decision import StopSession
from csms.power.steering.profile import Offer
from csms.power.steering.promises import Outcome
from tools.simulation.arrivals import Arrival, arrivals
from tools.simulation.description import Description, Disturbance, Trouble
from tools.simulation.grid import Grid
from tools.simulation.load import changes
from tools.simulation.messages import Post
from tools.simulation.meters import Amps, Meters
from tools.simulation.places import Place, Stay, bay_for
from tools.simulation.planning import Planning
from tools.simulation.server import Server, charge_of, evse_of
from tools.simulation.timeline import Action, Timeline

LOOK_EVERY_S: Final = 1.0
"""The product looks at a site at most so often."""
REACTION_S: Final = 5.0
BACK_WITHIN_S: Final = 20.0
"""A station whose link was lost tries again within so long."""


@dataclass(slots=True, kw_only=True)
class Outcomes:
    """What a run leaves behind."""

    description: Description
    grid: Grid
    stays: list[Stay]
    turned_away: list[Arrival]
    server: Server
    window_s: float
    killed_s: list[float]


def window_s(description: Description) -> float:
    """How long after a step of the base load the cars may be above: their own 5 s, the meter's report, the
    joining of events, and the way of the command."""
    meters = [c.meter for c in description.circuits if c.meter is not None]
    report_s = max((m.delay_s + (m.period_s if m.on_change_a is None else 0.0) for m in meters), default=0.0)
    return REACTION_S + report_s + LOOK_EVERY_S + description.messages.delay_s[1]


class World:
    def __init__(self, description: Description) -> None:
        self._description = description
        self._random = Random(f"{description.seed} world")
        self._timeline = Timeline(description.starts_s)
        self._grid = Grid(description, window_s(description))
        delta = description.system.is_delta
        self._places = {s.id: Place(s, delta=delta, random=self._random) for s in description.stations}
        self._server = Server(description, self._timeline, self._send, self._held_a)
        self._server.stopped = self._stop_session
        self._stays: list[Stay] = []
        self._turned_away: list[Arrival] = []
        self._killed_s: list[float] = []
        self._news = True
        self._urgent = True
        self._resolved = False
        self._known: set[str] = set()
        self._phase_s: dict[str, float] = {}
        self._offline_until_s: dict[str, float] = {}
        self._meters = Meters(description, self._timeline, self._grid, self._tell_building)
        self._post = Post(
            description.messages,
            self._timeline,
            self._random,
            settle=self._settle,
            answered=self._answer_is_here,
        )
        self._planning = Planning(
            description, self._timeline, self._server, self._places.values(), self._hear
        )
        self._dies = self._born = False
        self._dead_for_s = 0.0

    @property
    def now_s(self) -> float:
        return self._timeline.now_s

    async def run(self) -> Outcomes:
        """From the first midnight to the last."""
        self._plan()
        await self._start_server()
        look_s = last_look_s = self.now_s
        end_s = self._description.ends_s
        while self._timeline.next_s < end_s:
            if self._server.controller is not None:
                pause_s = LOOK_EVERY_S if self._urgent else self._description.idle_look_s
                wanted_s = self.now_s if self._news else look_s
                next_look_s = max(last_look_s + pause_s, wanted_s)
                if next_look_s <= self._timeline.next_s:
                    self._timeline.move(next_look_s)
                    self._news = self._urgent = False
                    last_look_s = self.now_s
                    look_s = await self._server.look()
                    await self._pass()
                    continue
            self._timeline.take()()
            if self._resolved:
                self._resolved = False
                await asyncio.sleep(0)
            await self._fate()
        self._timeline.move(end_s)
        for place in self._places.values():
            if place.stay is not None:
                self._leave(place, place.stay)
        self._grid.finish(end_s)
        await self._server.kill()
        return Outcomes(
            description=self._description,
            grid=self._grid,
            stays=self._stays,
            turned_away=self._turned_away,
            server=self._server,
            window_s=window_s(self._description),
            killed_s=self._killed_s,
        )

    async def _pass(self) -> None:
        """Let the controller's tasks run until they wait again."""
        for _ in range(3):
            await asyncio.sleep(0)

    # What happens in any case

    def _plan(self) -> None:
        description = self._description
        for load in description.loads:
            before = (0.0 + 0j, 0.0 + 0j, 0.0 + 0j)
            for change in changes(description, load):
                self._timeline.at(change.at_s, self._base_change(load.circuit, before, change.line_a))
                before = change.line_a
        for arrival in arrivals(description):
            self._timeline.at(arrival.arrives_s, partial(self._arrive, arrival))
        for disturbance in description.disturbances:
            self._timeline.at(disturbance.at.timestamp(), partial(self._disturb, disturbance))
        self._meters.start()
        self._planning.start()
        at_most_s = min(2.0, description.messages.sample_s / 2)
        self._phase_s = {id: self.now_s + self._random.uniform(0.0, at_most_s) for id in self._places}

    def _base_change(
        self, circuit: str, before: tuple[complex, complex, complex], after: tuple[complex, complex, complex]
    ) -> Action:
        def change() -> None:
            self._grid.base_changed(circuit, before, after, self.now_s)
            self._meters.base_changed(circuit)

        return change

    async def _start_server(self) -> None:
        await self._server.start()
        for place in self._places.values():
            at_s = self.now_s + self._random.uniform(0.1, BACK_WITHIN_S)
            self._timeline.at(at_s, partial(self._connect, place))
        controller = self._server.controller
        assert controller is not None
        for place in self._places.values():
            if place.stay is not None and place.stay.transaction in self._known:
                controller.charge_started(evse_of(place.station.id), charge_of(place.stay))
        self._hear(urgent=True)

    def _hear(self, *, urgent: bool = False) -> None:
        """There is something new: a look is due."""
        self._news = True
        self._urgent = self._urgent or urgent

    def _connect(self, place: Place) -> None:
        controller = self._server.controller
        if controller is None or place.online or place.station.id in self._off():
            return
        place.online = True
        controller.station_connected(place.station.id)
        self._tell_charge(place)
        self._hear(urgent=True)

    def _off(self) -> set[str]:
        return {name for name, until_s in self._offline_until_s.items() if until_s > self.now_s}

    # Cars

    def _arrive(self, arrival: Arrival) -> None:
        place = bay_for(arrival.visit, self._places.values())
        if place is None:
            self._turned_away.append(arrival)
            return
        car = arrival.car(Random(self._random.getrandbits(64)))
        number = f"t{self._timeline.number()}"
        stay = Stay(
            arrival=arrival,
            place=place,
            car=car,
            transaction=number,
            began_s=self.now_s,
            need_wh=car.need_wh(),
        )
        self._stays.append(stay)
        place.plug_in(stay, self.now_s)
        self._settle(place)
        sample_s, station_id = self._description.messages.sample_s, place.station.id
        passed = math.ceil((self.now_s - self._phase_s[station_id]) / sample_s)
        self._timeline.at(
            self._phase_s[station_id] + passed * sample_s, partial(self._sample, station_id, stay)
        )
        self._timeline.after(self._post.delay_s(), partial(self._tell_charge, place))
        leaves_s = min(arrival.departs_s, self._description.ends_s)
        self._timeline.at(leaves_s, partial(self._leave, place, stay))

    def _leave(self, place: Place, stay: Stay) -> None:
        if place.stay is stay:
            self._settle(place)
            self._unplug(place)

    def _unplug(self, place: Place) -> None:
        before = place.line_a
        stay = place.unplug(self.now_s)
        self._grid.cars_changed(place.station.circuit, before, place.line_a, self.now_s)
        self._timeline.after(self._post.delay_s(), partial(self._tell_end, place, stay.transaction))

    def _tell_end(self, place: Place, transaction: str) -> None:
        controller = self._server.controller
        if controller is not None and place.online:
            controller.charge_ended(evse_of(place.station.id), transaction)
            self._hear(urgent=True)
        elif transaction in self._known:
            # The station tells it when it is heard again.
            self._timeline.after(5.0, partial(self._tell_end, place, transaction))
            return
        self._known.discard(transaction)

    def _tell_charge(self, place: Place) -> None:
        controller, stay = self._server.controller, place.stay
        if controller is None or stay is None or not place.online:
            return
        self._known.add(stay.transaction)
        controller.charge_started(evse_of(place.station.id), charge_of(stay))
        self._planning.ask()
        self._hear(urgent=True)

    def _stop_session(self, stop: StopSession) -> None:
        place = self._places[stop.evse.station_id]
        if place.stay is not None and place.stay.transaction == stop.transaction:
            stay = place.stay
            self._timeline.after(self._post.delay_s(), partial(self._leave, place, stay))

    def _settle(self, place: Place) -> None:
        """Physics of a bay until now, and when to look at it again."""
        before, asked = place.line_a, place.asks
        place.settle(self.now_s)
        if place.line_a != before:
            self._grid.cars_changed(place.station.circuit, before, place.line_a, self.now_s)
        if place.stay is not None and place.asks != asked and place.pilot_a > 0:
            self._tell_wants(place)
        place.version += 1
        due_s, version = place.next_s(self.now_s), place.version
        if due_s < math.inf:
            self._timeline.at(due_s, lambda: self._settle(place) if place.version == version else None)

    def _tell_wants(self, place: Place) -> None:
        stay, wants = place.stay, place.asks
        assert stay is not None

        def tell() -> None:
            controller = self._server.controller
            if controller is not None and place.online and place.stay is stay:
                controller.car_wants(evse_of(place.station.id), stay.transaction, wants)
                self._hear()

        self._timeline.after(self._post.delay_s(), tell)

    def _sample(self, station_id: str, stay: Stay) -> None:
        place = self._places[station_id]
        if place.stay is not stay:
            return
        self._timeline.after(self._description.messages.sample_s, partial(self._sample, station_id, stay))
        self._settle(place)
        currents, energy_wh, at_s = place.terminals_a(), stay.energy_wh, self.now_s

        def tell() -> None:
            controller = self._server.controller
            if controller is not None and place.online and place.stay is stay:
                controller.car_measured(evse_of(station_id), stay.transaction, currents, at_s, energy_wh)
                self._hear()

        self._timeline.after(self._post.delay_s(), tell)

    def _tell_building(self, circuit: str, values: Amps, at_s: float, step: bool) -> None:
        controller = self._server.controller
        if controller is not None:
            controller.building_measured(circuit, dict(zip(LINES, values, strict=True)), at_s)
            self._hear(urgent=step)

    # Messages

    def _send(self, offer: Offer) -> "asyncio.Future[Outcome]":
        return self._post.send(offer, self._places[offer.evse.station_id])

    def _answer_is_here(self) -> None:
        self._resolved = True
        self._hear()

    def _held_a(self, station_id: str) -> float | None:
        """What a station that has just started anew says that it holds."""
        place = self._places[station_id]
        return place.memory.limit_a(self.now_s) if place.online else None

    # Disturbances

    def _disturb(self, disturbance: Disturbance) -> None:
        until_s = self.now_s + disturbance.lasts_s
        match disturbance.kind:
            case Trouble.METER_SILENT:
                self._meters.silence(disturbance.circuit or "", until_s)
            case Trouble.STATIONS_OFFLINE:
                for place in self._some(disturbance.share):
                    self._offline_until_s[place.station.id] = until_s
                    self._lose(place)
                    self._timeline.at(
                        until_s + self._random.uniform(0.1, BACK_WITHIN_S), partial(self._connect, place)
                    )
            case Trouble.STATIONS_REBOOT:
                for place in self._some(disturbance.share):
                    self._reboot(place)
            case Trouble.SERVER_KILLED:
                self._dead_for_s = disturbance.lasts_s
                if disturbance.while_raising:
                    self._server.raising = self._die
                else:
                    self._die()

    def _die(self) -> None:
        self._dies = True

    def _be_born(self) -> None:
        self._born = True

    def _some(self, share: float) -> list[Place]:
        return self._random.sample(list(self._places.values()), round(share * len(self._places)))

    def _lose(self, place: Place) -> None:
        place.online = False
        if self._server.controller is not None:
            self._server.controller.station_lost(place.station.id)
            self._hear()

    def _reboot(self, place: Place) -> None:
        self._lose(place)
        place.memory.reboot()
        self._settle(place)

        def back() -> None:
            controller = self._server.controller
            if controller is not None:
                place.online = True
                controller.station_connected(place.station.id)
                controller.station_booted(place.station.id)
                self._tell_charge(place)
                self._hear()

        self._timeline.after(self._random.uniform(20.0, 60.0), back)

    async def _fate(self) -> None:
        """Death and birth of the server, which take a moment of the real loop."""
        if self._dies:
            self._dies = False
            await self._server.kill()
            self._killed_s.append(self.now_s)
            for place in self._places.values():
                place.online = False
            self._timeline.after(self._dead_for_s, self._be_born)
        if self._born:
            self._born = False
            await self._start_server()


def simulate(description: Description) -> Outcomes:
    """Run it from its first midnight to its last."""
    return asyncio.run(World(description).run())
