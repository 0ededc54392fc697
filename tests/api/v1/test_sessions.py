"""Sessions over REST: what a station told comes out again, to the unit."""

from datetime import datetime
from typing import Any

import httpx
import pytest

from csms.app import Central
from csms.clock import ManualClock
from csms.sessions.session import Cost
from csms.stations.events import MetersReported
from csms.stations.model import Reading, StopReason, TokenRef
from csms.stations.questions import TransactionReported, TransactionStep


def wait(central: Central, minutes: float) -> datetime:
    """Let time pass."""
    assert isinstance(central.clock, ManualClock)
    central.clock.advance(minutes * 60)
    return central.clock.now()


async def says(central: Central, event: object) -> Any:
    return await central.dispatcher.ask("garage-1", event, central.clock.now())


async def begin(central: Central, transaction_id: str, minutes: float = 0, register_wh: int = 1000) -> int:
    at = wait(central, minutes)
    await says(
        central,
        TransactionReported(
            step=TransactionStep.BEGAN,
            transaction_id=transaction_id,
            at=at,
            evse=1,
            connector=1,
            token=TokenRef("04a1b2c3"),
            register_wh=register_wh,
        ),
    )
    return (await central.sessions.by_transaction("garage-1", transaction_id)).id


async def end(central: Central, transaction_id: str, minutes: float, register_wh: int) -> None:
    await says(
        central,
        TransactionReported(
            step=TransactionStep.ENDED,
            transaction_id=transaction_id,
            at=wait(central, minutes),
            evse=1,
            register_wh=register_wh,
            reason=StopReason.LOCAL,
        ),
    )


@pytest.fixture(autouse=True)
async def card(manager: httpx.AsyncClient, supply: dict[str, Any], flat: dict[str, Any]) -> None:
    station = {"id": "garage-1", "site_id": "weavers-yard", "circuit_id": "main"}
    await manager.post("/v1/stations", json=station)
    await manager.post("/v1/tokens", json={"id": "card-1", "text": "04:A1:B2:C3", "member_id": "flat-12"})
    await manager.post("/v1/rights", json={"site_id": "weavers-yard", "member_id": "flat-12"})


async def test_a_session_from_plug_in_to_its_price(reader: httpx.AsyncClient, central: Central) -> None:
    number = await begin(central, "tx-1")
    running = (await reader.get(f"/v1/sessions/{number}")).json()
    assert (running["open"], running["ended_at"], running["energy_wh"]) == (True, None, 0)
    await end(central, "tx-1", 60, 8_360)
    await central.sessions.set_cost(number, Cost("day", "NOK", 1549, 1936, [{"type": "ENERGY"}]))
    assert (await reader.get(f"/v1/sessions/{number}")).json() == {
        "id": number,
        "site_id": "weavers-yard",
        "station_id": "garage-1",
        "evse": 1,
        "connector": 1,
        "transaction_id": "tx-1",
        "state": "ended",
        "charging": running["charging"],
        "open": False,
        "token": "04a1b2c3",
        "token_id": "card-1",
        "member_id": "flat-12",
        "verdict": "accepted",
        "verdict_reason": "ok",
        "started_at": "2026-11-02T11:00:00Z",
        "ended_at": "2026-11-02T12:00:00Z",
        "stop_reason": "local",
        "register_start_wh": 1000,
        "register_last_wh": 8360,
        "register_stop_wh": 8360,
        # 230 V x 32 A for an hour: 7.36 kWh, the difference of the registers.
        "energy_wh": 7360,
        "marks": {},
        "tariff_id": "day",
        "currency": "NOK",
        "cost_excl": "15.49",
        "cost_incl": "19.36",
        "cost_lines": [{"type": "ENERGY"}],
    }


async def test_samples_keep_what_is_unknown_and_come_in_pages(
    reader: httpx.AsyncClient, central: Central
) -> None:
    number = await begin(central, "tx-1")
    for count in (1, 2, 3):
        reading = Reading(
            at=wait(central, 1),
            register_wh=1000 + 100 * count,
            power_w=7360,
            current_a=(32.0, None, 0.0),
            soc_percent=55.5,
        )
        await says(central, MetersReported(1, (reading,), "tx-1"))
    url = f"/v1/sessions/{number}/samples"
    every = (await reader.get(url)).json()["items"]
    measured = [sample for sample in every if sample["power_w"] is not None]
    assert [sample["register_wh"] for sample in measured] == [1100, 1200, 1300]
    assert measured[0] | {"id": 0} == {
        "id": 0,
        "at": "2026-11-02T11:01:00Z",
        "context": "periodic",
        "register_wh": 1100,
        "power_w": 7360.0,
        "current_a": {"L1": 32.0, "L2": None, "L3": 0.0},
        "voltage_v": {"L1": None, "L2": None, "L3": None},
        "line_power_w": {"L1": None, "L2": None, "L3": None},
        "offered_a": None,
        "temperature_c": None,
        "soc_percent": 55.5,
        "signed": None,
    }
    first = (await reader.get(url, params={"limit": 2})).json()
    second = (await reader.get(url, params={"limit": 2, "after": first["next"]})).json()
    assert (first["items"] + second["items"])[: len(every)] == every
    assert (await reader.get(f"{url}?after=3")).json()["field"] == "after"
    assert (await reader.get("/v1/sessions/4711/samples")).status_code == 404


async def test_lists_are_narrowed_and_newest_first(reader: httpx.AsyncClient, central: Central) -> None:
    first = await begin(central, "tx-1")
    await end(central, "tx-1", 30, 2000)
    second = await begin(central, "tx-2", 10, 2000)

    async def ids(query: str) -> list[int]:
        answer = await reader.get(f"/v1/sessions?{query}")
        assert answer.status_code == 200, answer.text
        return [session["id"] for session in answer.json()["items"]]

    assert await ids("") == [second, first]
    assert await ids("open=true") == [second]
    assert await ids("open=false&member=flat-12&token=card-1&site=weavers-yard") == [first]
    assert await ids("station=garage-9") == []
    assert await ids("started_from=2026-11-02T11:40:00Z") == [second]
    assert await ids("started_to=2026-11-02T12:40:00%2B01:00") == [first]
    assert await ids("priced=true") == []
    page = (await reader.get("/v1/sessions?limit=1")).json()
    rest = (await reader.get("/v1/sessions", params={"limit": 1, "after": page["next"]})).json()
    assert ([each["id"] for each in rest["items"]], rest["next"]) == ([first], None)


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("started_from=2026-11-02", "started_from"),
        ("started_from=2026-11-02T11:40:00", "started_from"),
        ("started_from=2026-11-02T12:00:00Z&started_to=2026-11-02T11:00:00Z", "started_to"),
        ("open=perhaps", "open"),
        ("after=1", "after"),
        ("limit=501", "limit"),
    ],
)
async def test_a_list_that_cannot_be_is_refused(reader: httpx.AsyncClient, query: str, field: str) -> None:
    refused = await reader.get(f"/v1/sessions?{query}")
    assert (refused.status_code, refused.json()["field"]) == (422, field)


async def test_a_pause_by_us_is_told_from_the_cars_own(reader: httpx.AsyncClient, central: Central) -> None:
    number = await begin(central, "tx-1")
    await central.sessions.paused_by_us("garage-1", 1, wait(central, 5))
    told = (await reader.get(f"/v1/sessions/{number}/pauses")).json()
    assert told == {"items": [{"from_at": "2026-11-02T11:05:00Z", "to_at": None, "by_us": True}]}
    assert (await reader.get("/v1/sessions/4711/pauses")).status_code == 404


async def test_a_session_whose_stop_is_lost_is_closed_by_hand(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, central: Central
) -> None:
    number = await begin(central, "tx-1")
    assert (await reader.post(f"/v1/sessions/{number}/close")).status_code == 403
    closed = (await manager.post(f"/v1/sessions/{number}/close")).json()
    assert (closed["state"], closed["open"]) == ("closed", False)
    assert "key:manager" in str(closed["marks"]["closed_by_hand"])
    assert (await manager.post(f"/v1/sessions/{number}/close")).status_code == 409
    assert (await manager.post("/v1/sessions/4711/close")).status_code == 404


async def test_a_number_that_no_session_can_have_is_refused(reader: httpx.AsyncClient) -> None:
    for number in ("0", "-1", "one", str(2**63)):
        assert (await reader.get(f"/v1/sessions/{number}")).status_code == 422
    assert (await reader.get(f"/v1/sessions/{2**63 - 1}")).status_code == 404
