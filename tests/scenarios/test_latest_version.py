"""OCPP 2.1 over a real socket, told by a client that is not ours: one charge, and what only 2.1 has."""

import json
from datetime import timedelta

from api.node import Node
from tests.scenarios.charger import Values
from tests.scenarios.charger21 import Charger21
from tests.scenarios.rest import Rest
from tests.scenarios.site import CARDS, password

STATION = "corner-201"
START_WH = 1_234_567


async def test_a_charge_in_2_1(node: Node, rest: Rest) -> None:
    """Boot, status, start, offer, meter, end; a command of 2.1 and what it tells; a stream."""
    charger = Charger21(node.ocpp_url, STATION, password(STATION))
    await charger.dial()
    assert (await charger.boot())[0] == "Accepted"
    now = node.central.clock.now()
    await charger.available(now)
    assert (await rest.get(f"/stations/{STATION}"))["protocol"] == "2.1"

    assert await charger.authorize(CARDS[STATION]) == "Accepted"
    transaction_id, verdict = await charger.start(CARDS[STATION], now - timedelta(minutes=30), START_WH)
    assert verdict == "Accepted"
    # 40 A, less 10 A for the building and 6 A for the other station, which may be drawing its fallback.
    offer = await charger.profile(purpose="TxProfile", transaction_id=transaction_id, limit_a=24.0)
    assert offer.evse == 1
    # Only now: a car that draws before it is offered anything would count as one that ignores its limit.
    await charger.meter(Values(at=now, register_wh=START_WH + 9_000, current_a=20.0))

    swap = {"command": "request_battery_swap", "token": {"text": "04B27D2F"}, "request_id": 12}
    assert (await rest.post(f"/stations/{STATION}/commands", swap))["status"] == "accepted"
    await charger.swapped(12)
    # NotifyPeriodicEventStream has no class in the package; it is a SEND, and no answer comes.
    stream = {"id": 1, "pending": 0, "basetime": "2026-11-12T18:30:00Z", "data": [{"t": 0, "v": "230.1"}]}
    await charger.say(json.dumps([6, "stream-1", "NotifyPeriodicEventStream", stream]))
    # Nobody answers a SEND; the heartbeat behind it shows that it has been taken.
    await charger.heartbeat()
    reports = (await rest.get(f"/stations/{STATION}/reports"))["items"]
    assert [report["kind"] for report in reports] == ["stream", "battery"]
    assert reports[0]["body"]["samples"] == [{"after_s": 0.0, "value": "230.1"}]
    assert reports[1]["body"]["batteries"][0]["soc_percent"] == 12.5
    assert all(frame[1] != "stream-1" for frame in charger.talk.frames)

    await charger.stop(node.central.clock.now(), START_WH + 10_000)
    (session,) = await rest.sessions(STATION)
    assert (session["open"], session["energy_wh"]) == (False, 10_000)
    assert session["transaction_id"] == transaction_id
    await charger.hang_up()
