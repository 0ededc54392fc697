"""A meter of the building, from its own wire to the currents that offers are made with."""

from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import pytest
from ocpp.v16 import call as call16
from ocpp.v201 import call as call201

from api.node import Node
from tests.csms.metering.rigs import P1Rig
from tests.scenarios.charger import Charger, stamp
from tests.scenarios.rest import Json, Rest, until
from tests.scenarios.site import SITE, SUPPLY

Tell = Callable[[], Awaitable[None]]


async def measure(rest: Rest, **given: Any) -> None:
    """The supply is measured so from now on; the node hears of it after the commit."""
    meter = {"counts": "base", "period_s": 10, "input": given}
    await rest.send("PATCH", f"/circuits/{SUPPLY}", {"meter": meter})


async def base_a(rest: Rest, wanted: dict[str, float], tell: Tell | None = None) -> Json:
    """The supply's picture, once it has that base load; a meter tells again and again."""

    async def ask() -> Json | None:
        if tell is not None:
            await tell()
        answer = await rest.answer("GET", f"/sites/{SITE}/power")
        if answer.status_code == 409:
            return None  # its controller is made anew just now
        (supply,) = answer.json()["circuits"]
        return supply if supply["base_a"] == pytest.approx(wanted) else None

    return await until(ask, f"a base load of {wanted}")


async def tell_main_meter(charger: Charger, node: Node, amps: dict[str, float]) -> None:
    """What the station's main meter shows, in the station's own protocol."""
    at = stamp(node.central.clock.now())
    if charger.subprotocol == "ocpp1.6":
        texts = [
            {"measurand": "Current.Import", "value": f"{value:.1f}", "unit": "A", "phase": line}
            for line, value in amps.items()
        ]
        await charger.call(
            call16.MeterValues(connector_id=0, meter_value=[{"timestamp": at, "sampled_value": texts}])
        )
        return
    numbers = [
        {
            "measurand": "Current.Import",
            "value": value,
            "unit_of_measure": {"unit": "A"},
            "phase": line,
            "location": "Inlet",
        }
        for line, value in amps.items()
    ]
    await charger.call(
        call201.MeterValues(evse_id=0, meter_value=[{"timestamp": at, "sampled_value": numbers}])
    )


@pytest.mark.parametrize("version", ["1.6", "2.0.1"])
async def test_a_chargers_main_meter_measures_the_building(
    version: str, node: Node, rest: Rest, chargers: dict[str, Charger]
) -> None:
    charger = chargers[version]
    await charger.dial()
    await charger.boot()
    await charger.available(node.central.clock.now())
    await measure(rest, kind="station", station_id=charger.station_id, lines=["L1", "L2", "L3"])
    full = {"L1": 4.0, "L2": 0.0, "L3": 7.5}
    supply = await base_a(rest, full, lambda: tell_main_meter(charger, node, full))
    assert supply["meter_fresh"]
    # A line that is not told has its worst case, 10 A here, and not 0.
    await tell_main_meter(charger, node, {"L1": 3.0, "L3": 6.0})
    await base_a(rest, {"L1": 3.0, "L2": 10.0, "L3": 6.0})
    assert (await rest.get(f"/circuits/{SUPPLY}/meter"))["missing"] == ["L2"]


async def test_a_p1_port_measures_the_building_and_its_loss_is_the_worst_case(
    node: Node, rest: Rest, tmp_path: Path
) -> None:
    rig = P1Rig(tmp_path)
    await rig.start()
    await measure(rest, **rig.config)
    # An export makes no room: it counts as nothing drawn.
    await base_a(rest, {"L1": 4.0, "L2": 5.0, "L3": 0.0}, lambda: rig.tell((4.0, 5.0, -6.0)))
    await rig.stop()
    supply = await base_a(rest, {"L1": 10.0, "L2": 10.0, "L3": 10.0})
    assert not supply["meter_fresh"]

    async def silent() -> Json | None:
        events = (await rest.get(f"/events?site={SITE}"))["items"]
        return next((event for event in events if event["topic"] == "meter.silent"), None)

    event = await until(silent, "the fact that the meter is silent")
    assert event["body"]["circuit"] == "Corner supply"
    assert event["body"]["problem"]
