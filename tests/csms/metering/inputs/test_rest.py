import asyncio

import pytest

from csms.errors import Conflict
from csms.metering.building import LineReading
from csms.metering.inputs.rest import RestInput
from tests.csms.metering.conftest import NOON, SUPPLY, Yard


def test_there_is_nothing_to_set() -> None:
    assert RestInput.parse({"kind": "rest"}, "meter.input") == RestInput()


async def test_readings_are_pushed_without_a_start(yard: Yard) -> None:
    circuit = await yard.measure(None)
    await yard.meters.push(circuit, LineReading(NOON, (1.0, None, 3.0)))
    assert await yard.heard.next() == {"L1": 1.0, "L3": 3.0}


async def test_a_circuit_without_a_meter_or_with_another_one_takes_no_push(yard: Yard) -> None:
    reading = LineReading(NOON, (1.0, 1.0, 1.0))
    with pytest.raises(Conflict, match="has no meter"):
        await yard.meters.push(await yard.sites.get_circuit(SUPPLY), reading)
    circuit = await yard.measure({"kind": "p1", "host": "127.0.0.1", "port": 1})
    with pytest.raises(Conflict, match="read by p1"):
        await yard.meters.push(circuit, reading)
    assert yard.heard.readings.empty()


async def test_listening_goes_on_until_it_is_ended(yard: Yard) -> None:
    await yard.measure({"kind": "rest"})
    await yard.meters.start()
    await asyncio.sleep(0)
    assert (await yard.meters.status(SUPPLY)).error == ""
    await yard.meters.stop()
