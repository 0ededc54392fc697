"""Our side: the product's controller with virtual time, a store that outlives it, and its sudden death.

Everything the decision knows is in `SiteController`; what survives a kill is only what it has saved.
"""

import asyncio
from collections.abc import Callable, Mapping

from csms.power.controller import SiteController
from csms.power.installation import LINES, Circuit, Evse, Installation, Wiring
from csms.power.sharing.strategies import PLANNED
from csms.power.steering.base_load import BuildingMeter
from csms.power.steering.bay import Charge
from csms.power.steering.decision import StopSession
from csms.power.steering.profile import Offer, Purpose
from csms.power.steering.promises import Outcome, StoredOffer
from tools.simulation.description import Description
from tools.simulation.places import Stay
from tools.simulation.timeline import Timeline


class Store:
    """Promises on a disk that outlives the server."""

    def __init__(self) -> None:
        self._saved: dict[Evse, StoredOffer] = {}

    async def load(self, site_id: str) -> Mapping[Evse, StoredOffer]:
        return dict(self._saved)

    async def save(self, site_id: str, offers: Mapping[Evse, StoredOffer]) -> None:
        self._saved.update(offers)


def evse_of(station_id: str) -> Evse:
    return Evse(station_id, 1)


def charge_of(stay: Stay) -> Charge:
    """The charge as the product is told of it."""
    return Charge(
        transaction=stay.transaction,
        started_s=stay.began_s,
        wants=not stay.car.full,
        priority=stay.arrival.priority,
        energy_wh=stay.energy_wh,
    )


def installation(description: Description) -> Installation:
    """The description as the product holds it."""
    return Installation(
        system=description.system,
        strategy=PLANNED if description.planned else None,
        delta_margin=description.delta_margin if description.system.is_delta else 0.0,
        circuits=tuple(
            Circuit(
                id=c.id,
                fed_from=c.fed_from,
                limit_a=dict.fromkeys(LINES, c.limit_a),
                device_a=c.device_a,
                base_a=dict.fromkeys(LINES, c.worst_base_a) if c.worst_base_a else {},
            )
            for c in description.circuits
        ),
        wirings=tuple(
            Wiring(
                evse=evse_of(s.id),
                circuit=s.circuit,
                rotation=tuple(LINES[line] for line in s.rotation),
                max_current_a=s.max_current_a,
                step_a=s.step_a,
                fallback_a=s.fallback_a,
                keeps_profiles=s.keeps_profiles,
            )
            for s in description.stations
        ),
    )


class Server:
    """`send` is called with each offer and gives a future of its outcome. `sent` counts by purpose."""

    def __init__(
        self,
        description: Description,
        clock: Timeline,
        send: Callable[[Offer], "asyncio.Future[Outcome]"],
        held_a: Callable[[str], float | None],
    ) -> None:
        self._description = description
        self._clock = clock
        self._send = send
        self._held_a = held_a
        self._store = Store()
        self._installation = installation(description)
        self.controller: SiteController | None = None
        self.sent: dict[Purpose, int] = dict.fromkeys(Purpose, 0)
        self.stops: list[StopSession] = []
        self.stopped: Callable[[StopSession], None] = self.stops.append
        self.looks = 0
        self._last: dict[Evse, float] = {}
        self.raising: Callable[[], None] | None = None

    async def start(self) -> None:
        """Begin to steer, with what was saved."""
        meters = {
            c.id: BuildingMeter(
                counts=c.meter.counts,
                period_s=c.meter.period_s,
                stale_at_least_s=self._description.timing.meter_stale_s,
            )
            for c in self._description.circuits
            if c.meter is not None
        }
        self.controller = SiteController(
            "site",
            self._installation,
            stations=self,
            store=self._store,
            clock=self._clock,
            meters=meters,
            timing=self._description.timing,
        )
        await self.controller.load()

    async def kill(self) -> None:
        """kill -9: nothing is said to anybody."""
        dead, self.controller = self.controller, None
        if dead is not None:
            await close(dead)

    async def look(self) -> float:
        """Let it decide. Returns when it wants to look again. RuntimeError: it failed; the product would
        survive that and log it."""
        assert self.controller is not None
        self.looks += 1
        wake_s = await self.controller.look()
        settled_s = self.controller.state.settled_s
        if settled_s is None or abs(settled_s - self._clock.now_s) > 1e-3:
            raise RuntimeError("the decision failed; the log says why")
        return wake_s

    # What the controller needs (`controller.Stations`)

    async def set_offer(self, offer: Offer) -> Outcome:
        self.sent[offer.purpose] += 1
        answer = self._send(offer)
        if offer.purpose is Purpose.LIVE:
            before, self._last[offer.evse] = self._last.get(offer.evse, 0.0), offer.current_a
            if offer.current_a > before and self.raising is not None:
                raising, self.raising = self.raising, None
                raising()
        return await answer

    async def read_back(self, evse: Evse) -> float | None:
        return self._held_a(evse.station_id)

    async def stop_session(self, stop: StopSession) -> None:
        self.stops.append(stop)
        self.stopped(stop)


async def close(controller: SiteController) -> None:
    """End the tasks of a controller that is no more; it has no word for that, as `run` does it."""
    await controller._tasks.close()
