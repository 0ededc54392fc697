"""What every kind of building meter does alike, against a real server of each."""

import asyncio
import re
from pathlib import Path

import pytest
import yaml

from csms.errors import InvalidInput
from csms.metering.inputs import INPUTS, parse_input
from csms.stations.model import PerLine
from tests.csms.metering.conftest import Yard
from tests.csms.metering.rigs import RIGS, Rig, until
from tests.csms.yard import SUPPLY, facts


async def show(measured: Yard, rig: Rig, amps: PerLine, wanted: dict[str, float]) -> None:
    """Tell until it is heard: a subscription may not stand yet when the first message goes out."""
    async with asyncio.timeout(20):
        while True:
            await rig.tell(amps)
            try:
                async with asyncio.timeout(0.4):
                    await measured.heard.waits_for(wanted)
                return
            except TimeoutError:
                continue


def test_every_kind_has_a_rig() -> None:
    assert {rig.kind for rig in RIGS} == {each.kind for each in INPUTS}


def test_the_readmes_examples_are_sound_and_show_every_kind() -> None:
    text = Path("README.md").read_text()
    (block,) = [each for each in re.findall(r"```yaml\n(.*?)```", text, re.S) if "kind: p1" in each]
    meters = [yaml.safe_load(f"meter:{each}")["meter"] for each in block.split("meter:")[1:] if each.strip()]
    assert all(meter["counts"] in ("base", "total") and meter["period_s"] > 0 for meter in meters)
    assert {parse_input(meter["input"]).kind for meter in meters} == {each.kind for each in INPUTS}


@pytest.mark.parametrize(
    ("given", "field"), [pytest.param(*wrong, id=rig.kind) for rig in RIGS for wrong in rig.wrong]
)
def test_wrong_settings_are_refused_by_their_field(given: dict[str, object], field: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        parse_input(given)
    assert refused.value.field == field


async def test_currents_of_each_line_are_heard_with_their_sign(measured: Yard, rig: Rig) -> None:
    await show(measured, rig, (12.5, 7.25, -3.0), {"L1": 12.5, "L2": 7.25, "L3": -3.0})
    status = await measured.meters.status(SUPPLY)
    assert (status.kind, status.fresh, status.missing, status.error) == (rig.kind, True, (), "")
    assert status.age_s is not None
    assert 0 <= status.age_s < 5
    await show(measured, rig, (13.5, 0.0, 4.0), {"L1": 13.5, "L2": 0.0, "L3": 4.0})


async def test_a_line_that_is_not_told_is_missing_and_not_nought(measured: Yard, rig: Rig) -> None:
    await show(measured, rig, (12.0, 8.0, 3.0), {"L1": 12.0, "L2": 8.0, "L3": 3.0})
    await show(measured, rig, (12.0, None, 3.0), {"L1": 12.0, "L3": 3.0})
    status = await measured.meters.status(SUPPLY)
    assert (status.missing, status.fresh) == (("L2",), True)


async def test_garbage_is_no_reading_and_said(measured: Yard, rig: Rig) -> None:
    await show(measured, rig, (12.0, 8.0, 3.0), {"L1": 12.0, "L2": 8.0, "L3": 3.0})
    before = (await measured.meters.status(SUPPLY)).last
    while not measured.heard.readings.empty():
        measured.heard.readings.get_nowait()
    await rig.garbage()
    if rig.kind != "station":
        # A station that says nothing of currents of its main meter is not at fault.
        await until(lambda: measured.meters.shown(SUPPLY).error != "")
    after = await measured.meters.status(SUPPLY)
    assert after.last is not None
    assert before is not None
    assert after.last.current_a == before.current_a
    while not measured.heard.readings.empty():
        # What was polled before the meter went mad.
        assert (await measured.heard.next()) == pytest.approx({"L1": 12.0, "L2": 8.0, "L3": 3.0})
    await show(measured, rig, (2.0, 2.0, 2.0), {"L1": 2.0, "L2": 2.0, "L3": 2.0})
    assert (await measured.meters.status(SUPPLY)).error == ""


async def test_a_meter_that_goes_is_silent_and_comes_back(measured: Yard, rig: Rig) -> None:
    await show(measured, rig, (12.0, 8.0, 3.0), {"L1": 12.0, "L2": 8.0, "L3": 3.0})
    before = len(await facts(measured.database, "meter."))
    await rig.stop()
    silent = await measured.fact("meter.silent", before)
    assert (silent.topic, silent.subject, silent.site_id) == ("meter.silent", SUPPLY, "weavers-yard")
    assert (silent.body["circuit"], silent.body["kind"]) == (SUPPLY, rig.kind)
    assert silent.body["current_a"] == pytest.approx({"L1": 12.0, "L2": 8.0, "L3": 3.0})
    status = await measured.meters.status(SUPPLY)
    assert not status.fresh
    if rig.remote:
        await until(lambda: measured.meters.shown(SUPPLY).error != "")
    await rig.start()
    await show(measured, rig, (9.0, 9.0, 9.0), {"L1": 9.0, "L2": 9.0, "L3": 9.0})
    back = await measured.fact("meter.back", before + 1)
    assert back.subject == SUPPLY
    assert (await measured.meters.status(SUPPLY)).fresh


async def test_a_meter_that_is_not_there_yet_is_waited_for(yard: Yard, rig: Rig) -> None:
    await rig.stop()
    rig.circuit, rig.service = await yard.measure(rig.config), yard.meters
    await yard.meters.start()
    if rig.remote:
        await until(lambda: yard.meters.shown(SUPPLY).error != "")
    await rig.start()
    await show(yard, rig, (5.0, 6.0, 7.0), {"L1": 5.0, "L2": 6.0, "L3": 7.0})
