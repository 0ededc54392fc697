"""All meters: they follow the records."""

import asyncio
from pathlib import Path

import pytest

from csms.errors import NotFound
from csms.metering.building import LineReading
from csms.sites.model import MeterCounts
from csms.stations.events import MetersReported
from csms.stations.model import Reading
from csms.store.outbox import Fact
from tests.csms.metering.conftest import NOON, SUPPLY, Yard
from tests.csms.metering.rigs import P1Rig
from tests.csms.yard import BAKERY

CHANGED = Fact(topic="circuit.changed", at=NOON, subject=SUPPLY)


async def test_a_changed_circuit_is_measured_in_the_new_way(yard: Yard, tmp_path: Path) -> None:
    await yard.measure({"kind": "rest"})
    await yard.meters.start()
    assert yard.meters.shown(SUPPLY).kind == "rest"
    rig = P1Rig(tmp_path)
    await rig.start()
    await yard.measure(rig.config)
    await yard.meters.circuit_fact(1, CHANGED)
    assert yard.meters.shown(SUPPLY).kind == "p1"
    telegram = rig.telegram((4.0, 5.0, 6.0))
    rig.send(telegram)
    await yard.heard.waits_for({"L1": 4.0, "L2": 5.0, "L3": 6.0})
    await yard.meters.stop()
    await rig.stop()


async def test_a_change_of_something_else_leaves_the_meter_alone(yard: Yard) -> None:
    circuit = await yard.measure(None)
    await yard.meters.start()
    await yard.meters.push(circuit, LineReading(NOON, (1.0, 2.0, 3.0)))
    await yard.sites.update_circuit(SUPPLY, name="Incoming line")
    await yard.meters.circuit_fact(1, CHANGED)
    last = yard.meters.shown(SUPPLY).last
    assert last is not None
    assert last.current_a == (1.0, 2.0, 3.0)
    # Another meaning of the figures: what was heard before says nothing.
    await yard.measure(None, counts=MeterCounts.TOTAL)
    await yard.meters.circuit_fact(2, CHANGED)
    assert yard.meters.shown(SUPPLY).last is None


async def test_a_meter_that_is_taken_away_is_not_there(yard: Yard) -> None:
    await yard.measure(None)
    await yard.meters.start()
    await yard.sites.update_circuit(SUPPLY, meter=None)
    await yard.meters.circuit_fact(1, CHANGED)
    with pytest.raises(NotFound):
        yard.meters.shown(SUPPLY)
    with pytest.raises(NotFound):
        await yard.meters.status(SUPPLY)
    with pytest.raises(NotFound):
        await yard.meters.status("cellar")
    await yard.meters.circuit_fact(2, Fact(topic="circuit.deleted", at=NOON, subject="cellar"))
    assert await yard.meters.history(await yard.sites.get_circuit(SUPPLY), NOON, NOON) == ()


async def test_many_changes_at_once_leave_one_meter(yard: Yard) -> None:
    await yard.meters.start()
    changes = [(None, 1.0), ({"kind": "rest"}, 2.0), ({"kind": "station", "station_id": "a"}, 3.0)]
    for given, period_s in changes:
        await yard.measure(given, period_s=period_s)
        await asyncio.gather(*(yard.meters.circuit_fact(n, CHANGED) for n in range(3)))
    status = yard.meters.shown(SUPPLY)
    assert (status.kind, status.period_s) == ("station", 3.0)


async def test_only_the_named_stations_main_meter_is_heard(yard: Yard) -> None:
    await yard.measure({"kind": "station", "station_id": "gate-1"})
    await yard.sites.update_circuit(BAKERY, meter=None)
    await yard.meters.start()
    told = (Reading(at=NOON, current_a=(4.0, 5.0, 6.0)),)
    await yard.meters.station_told("gate-2", MetersReported(0, told), NOON)
    await yard.meters.station_told("gate-1", MetersReported(1, told), NOON)
    assert yard.heard.readings.empty()
    await yard.meters.station_told("gate-1", MetersReported(0, told), NOON)
    assert await yard.heard.next() == {"L1": 4.0, "L2": 5.0, "L3": 6.0}
