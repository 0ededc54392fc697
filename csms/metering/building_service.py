"""All building meters: one that is listened to for every circuit with a meter, kept as the records are."""

from datetime import datetime

from csms.errors import Conflict, NotFound
from csms.metering import repository
from csms.metering.building import LineReading, MeterStatus
from csms.metering.inputs.rest import RestInput
from csms.metering.inputs.station import MAIN_METER, StationInput
from csms.metering.meter_service import Surroundings, WatchedMeter
from csms.sites.model import Circuit
from csms.sites.service import SitesService
from csms.stations.events import MetersReported
from csms.store.outbox import Fact
from csms.store.paging import every


class BuildingService:
    """Until `start`, and after `stop`, only what is pushed is heard."""

    def __init__(self, around: Surroundings, sites: SitesService) -> None:
        self._around = around
        self._sites = sites
        self._meters: dict[str, WatchedMeter] = {}
        self._running = False

    async def start(self) -> None:
        """Listen to every meter there is."""
        self._running = True
        for site in await every(self._sites.list_sites):
            for circuit in await self._sites.circuits_of(site.id):
                await self._keep(circuit)

    async def stop(self) -> None:
        self._running = False
        while self._meters:
            _, meter = self._meters.popitem()
            await meter.stop()

    async def push(self, circuit: Circuit, reading: LineReading) -> None:
        """Somebody tells what the meter of `circuit` shows. Raises Conflict when it is not one to push to."""
        meter = await self._keep(circuit)
        if meter is None:
            raise Conflict(f"circuit {circuit.name} has no meter; give it one first")
        if not isinstance(meter.input, RestInput):
            raise Conflict(
                f"the meter of circuit {circuit.name} is read by {meter.input.kind}; "
                "set its input to rest to push readings"
            )
        await meter.heard(reading)

    async def station_told(self, station_id: str, event: MetersReported, now: datetime) -> None:
        """A station's main meter may be a building's (follower of MetersReported)."""
        if event.evse != MAIN_METER:
            return
        for meter in list(self._meters.values()):
            source = meter.input
            if isinstance(source, StationInput) and source.station_id == station_id:
                reading = source.reading(event, now)
                if reading is not None:
                    await meter.heard(reading)

    async def circuit_fact(self, _number: int, fact: Fact) -> None:
        """A circuit is new, changed or gone (follower of the outbox)."""
        if not self._running:
            return
        try:
            circuit = await self._sites.get_circuit(fact.subject)
        except NotFound:
            await self._drop(fact.subject)
            return
        await self._keep(circuit)

    async def status(self, circuit_id: str) -> MeterStatus:
        """How the circuit's meter does. Raises NotFound when it has none."""
        meter = await self._keep(await self._sites.get_circuit(circuit_id))
        if meter is None:
            raise NotFound("meter at circuit", circuit_id)
        return meter.status()

    def shown(self, circuit_id: str) -> MeterStatus:
        """How a meter that is known does, without a look at the records. Raises NotFound."""
        if (meter := self._meters.get(circuit_id)) is None:
            raise NotFound("meter at circuit", circuit_id)
        return meter.status()

    async def history(self, circuit: Circuit, since: datetime, until: datetime) -> tuple[LineReading, ...]:
        """What was kept of the circuit's meter, as it counts now: a row a minute, and the steps."""
        if circuit.meter is None:
            return ()
        async with self._around.database.read() as connection:
            return await repository.circuit_readings(
                connection, circuit.id, circuit.meter.counts.value, since, until
            )

    async def _keep(self, circuit: Circuit) -> WatchedMeter | None:
        """The meter as the record has it; a new one in place of another that was set differently."""
        found = self._meters.get(circuit.id)
        if circuit.meter is None:
            await self._drop(circuit.id)
            return None
        if found is not None and found.meter == circuit.meter:
            found.circuit = circuit
            return found
        made = WatchedMeter(circuit, circuit.meter, self._around)
        self._meters[circuit.id] = made
        if found is not None:
            await found.stop()
        # Another change may have come while the old one stopped.
        if self._running and self._meters.get(circuit.id) is made:
            made.start()
        return made

    async def _drop(self, circuit_id: str) -> None:
        found = self._meters.pop(circuit_id, None)
        if found is not None:
            await found.stop()
