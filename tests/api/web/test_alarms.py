"""The page Alarms."""

import httpx
import pytest

from csms.alarms.routes import ChannelKind
from csms.alarms.signs import Begun
from csms.app import Central
from tests.api.web.visitor import Visitor

PAGE = "/alarms/weavers-yard"


@pytest.fixture
async def fault(central: Central, garage: None) -> int:
    sign = Begun(kind="reader", thing="garage-1/1", station_id="garage-1", evse=1, detail={"info": "<b>"})
    await central.alarms.apply([sign], site_id="weavers-yard")
    return (await central.alarms.list()).items[0].id


async def test_it_says_what_is_wrong_and_what_to_do(forewoman: Visitor, fault: int) -> None:
    shown = (await forewoman.get(PAGE)).text
    assert "Bay 1: The card reader fails" in shown
    assert "Drivers can be let in by hand" in shown
    assert "info: &lt;b&gt;" in shown, "what a charger tells is text"
    assert "Nobody is told of alarms" in shown


async def test_one_is_taken_on_and_ended(forewoman: Visitor, fault: int, central: Central) -> None:
    done = await forewoman.send(f"{PAGE}/{fault}/take", note="new one ordered")
    assert "forewoman sees to it: new one ordered" in done.text
    again = await forewoman.send(f"{PAGE}/{fault}/take")
    assert "Not done: " in again.text
    done = await forewoman.send(f"{PAGE}/{fault}/end")
    assert "Nothing. That is how it should be." in done.text
    assert (await central.alarms.get(fault)).cleared_by == "person:forewoman"
    assert "Not done: " in (await forewoman.send(f"{PAGE}/{fault}/end")).text


async def test_who_is_told_is_shown(forewoman: Visitor, garage: None, central: Central) -> None:
    await central.alarm_routes.create(
        channel=ChannelKind.MAIL, address="board@weavers.example", site_id="weavers-yard", after_s=900
    )
    shown = (await forewoman.get(PAGE)).text
    assert "board@weavers.example" in shown
    assert "when nobody sees to it within 15 min" in shown
    assert "Nobody is told" not in shown


async def test_alarms_of_another_site_are_not_reached(
    forewoman: Visitor, fault: int, manager: httpx.AsyncClient, central: Central
) -> None:
    mill = {"id": "mill", "name": "Mill", "time_zone": "Europe/Paris", "currency": "EUR", "system": "TN-400"}
    assert (await manager.post("/v1/sites", json=mill)).status_code == 201
    assert "Not done: " in (await forewoman.send(f"/alarms/mill/{fault}/end")).text
    assert (await central.alarms.get(fault)).cleared_at is None


async def test_an_onlooker_may_only_look(onlooker: Visitor, fault: int) -> None:
    assert (await onlooker.get(PAGE)).status_code == 200
    assert (await onlooker.send(f"{PAGE}/{fault}/end")).status_code == 403
