"""Bad manners of stations that are asked something, of their boots, statuses and pings.

Each is a conversation of a scripted socket with a whole node.
"""

import asyncio
import json
from typing import Any

from tests.scenarios.rest import Json, until
from tests.scenarios.rude import ACCEPTED, BEGIN_WH, Rude, Yard, stamp


async def commands(rude: Rude) -> list[Json]:
    """What is written of what it was asked, the latest first."""
    return await rude.yard.rest.every(f"/stations/{rude.station_id}/commands")


def ask(rude: Rude, path: str, body: Json | None = None) -> "asyncio.Task[Any]":
    """Ask by REST; the answer is awaited by who wants it."""
    return asyncio.ensure_future(
        rude.yard.rest.answer("POST", f"/stations/{rude.station_id}/commands{path}", body)
    )


async def in_state(rude: Rude, kind: str, state: str) -> Json:
    """Its latest command of a kind, once it is in that state."""

    async def look() -> Json | None:
        found = [each for each in await commands(rude) if kind in each["kind"].lower()]
        return found[0] if found and found[0]["state"] == state else None

    return await until(look, f"a command that is {state}", timeout_s=60)


async def test_answers_to_nothing_twice_late_or_of_another_command_confuse_nothing(yard: Yard) -> None:
    rude = await yard.newcomer()
    await rude.call("Heartbeat", {})
    rude.deaf = True
    await rude.say('[3,"nobody asked",{"status":"Accepted"}]')
    asking = ask(rude, "/unlock", {"evse": 1})
    call_id, _ = await rude.told("UnlockConnector")
    await rude.say('[3,"another id",{"status":"Unlocked"}]')
    await yard.pass_s(31)
    answer = await asking
    assert answer.status_code == 504
    assert (await in_state(rude, "unlock", "timed_out"))["status"] is None
    for status in ("Unlocked", "UnlockFailed"):
        await rude.say(f'[3,"{call_id}",{{"status":"{status}"}}]')
    assert (await in_state(rude, "unlock", "answered_late"))["status"] == "accepted"
    rude.deaf = False
    rude.answers["UnlockConnector"] = {"status": "Perhaps"}
    await yard.pass_s(31)  # what else it was asked while it was deaf is given up
    answer = await ask(rude, "/unlock", {"evse": 1})
    assert answer.status_code == 200
    assert (await in_state(rude, "unlock", "answered"))["status"] == "error"


async def test_a_station_that_answers_no_command_is_made_to_connect_anew(yard: Yard) -> None:
    """Heartbeats go on. What was asked is over with the socket: it is not told to a later one."""
    rude = await yard.newcomer()
    await rude.call("Heartbeat", {})
    rude.deaf = True
    asked = [ask(rude, "/unlock", {"evse": 1}) for _ in range(4)]
    ending = asyncio.ensure_future(rude.ended())

    async def hung_up() -> bool | None:
        if ending.done():
            return True
        await rude.call("Heartbeat", {})
        yard.clock.advance(16)
        return None

    await until(hung_up, "the end of a deaf socket", timeout_s=60)
    assert ending.result() == (4002, "commands are not answered")
    assert {(await each).status_code for each in asked} <= {504, 409}
    rude.deaf = False
    before = len(rude.asked)
    await rude.dial()
    await rude.call("Heartbeat", {})
    await yard.pass_s(5)
    await rude.call("Heartbeat", {})
    assert "UnlockConnector" not in [name for _, name, _ in rude.asked[before:]]


async def test_a_stop_of_yesterday_does_not_stop_todays_car(yard: Yard) -> None:
    rude = await yard.newcomer()
    number = await rude.start(yard.ago(60))
    await rude.hang_up()

    async def offline() -> bool | None:
        station = await yard.rest.get(f"/stations/{rude.station_id}")
        return None if station["connected"] else True

    await until(offline, "the station's end", timeout_s=60)
    session = await rude.session()
    answer = await ask(rude, "/stop", {"session_id": session["id"]})
    assert answer.status_code in (409, 422), answer.text
    await rude.dial()
    await rude.call("Heartbeat", {})
    await yard.pass_s(5)
    await rude.call("Heartbeat", {})
    assert "RemoteStopTransaction" not in [name for _, name, _ in rude.asked]
    await rude.stop(number, yard.clock.now(), BEGIN_WH + 5_000)


async def test_an_accepted_station_is_served_without_a_boot(yard: Yard) -> None:
    rude = await yard.newcomer()
    number = await rude.start(yard.ago(10))
    await rude.stop(number, yard.clock.now(), BEGIN_WH + 1_000)
    assert (await rude.session())["energy_wh"] == 1_000


async def test_before_it_is_accepted_a_station_may_only_boot(yard: Yard) -> None:
    rude = await yard.newcomer(dial=False)
    await yard.rest.send("PATCH", f"/stations/{rude.station_id}", {"registration": "pending"})
    await rude.dial()
    refused = await rude.call("StartTransaction", rude.start_of(yard.clock.now()))
    assert refused[2] == "SecurityError"
    told = await rude.boot()
    assert told["status"] == "Pending"
    assert told["interval"] >= 240


async def test_a_loop_of_boots_is_told_longer_and_longer_intervals(yard: Yard) -> None:
    rude = await yard.newcomer()
    told = [(await rude.boot())["interval"] for _ in range(9)]
    usual = yard.node.settings.heartbeat_s
    assert all(0.9 * usual - 1 <= each <= 1.1 * usual + 1 for each in told[:5])
    assert told[8] > 5 * usual or told[8] == 3600
    assert (await rude.boot())["status"] == "Accepted"
    yard.clock.advance(601)
    assert (await rude.boot())["interval"] <= 1.1 * usual + 1, "it has calmed down"


async def test_a_station_is_asked_for_its_status_after_it_connects(yard: Yard) -> None:
    rude = await yard.newcomer(dial=False)
    rude.answers["TriggerMessage"] = ACCEPTED
    await rude.dial()
    await rude.call("Heartbeat", {})
    assert rude.asked == [], "it may settle first"
    await yard.pass_s(4)
    _, payload = await rude.told("TriggerMessage")
    assert payload["requestedMessage"] == "StatusNotification"


async def test_one_that_knows_no_trigger_is_not_asked_again(yard: Yard) -> None:
    rude = await yard.newcomer()
    await rude.call("Heartbeat", {})
    await yard.pass_s(4)
    await rude.told("TriggerMessage")
    await in_state(rude, "trigger", "answered")
    await rude.dial()
    await rude.call("Heartbeat", {})
    await yard.pass_s(5)
    await rude.call("Heartbeat", {})
    assert [name for _, name, _ in rude.asked].count("TriggerMessage") == 1


async def test_a_stale_available_does_not_end_what_draws_power(yard: Yard) -> None:
    rude = await yard.newcomer()
    number = await rude.start(yard.ago(60))
    sampled = [
        {"value": str(BEGIN_WH + 2_000)},
        {"value": "7000", "measurand": "Power.Active.Import", "unit": "W"},
    ]
    await rude.samples(number, yard.ago(1), sampled)
    status = {
        "connectorId": 1,
        "errorCode": "NoError",
        "status": "Available",
        "timestamp": stamp(yard.ago(50)),
    }
    for _ in range(30):
        assert await rude.call("StatusNotification", status) == {}
    session = await rude.session()
    assert (session["open"], session["charging"]) == (True, "charging")
    (evse,) = (await yard.rest.get(f"/stations/{rude.station_id}/evses"))["items"]
    assert evse["status_at"] == stamp(yard.ago(50)), "how old the status is can be seen"
    changes = await yard.rest.every(f"/events?site=corner&topic=station.status&subject={rude.station_id}")
    assert len(changes) <= 1, "the same again is no news"
    await rude.stop(number, yard.clock.now(), BEGIN_WH + 2_100)


async def test_the_intervals_that_stations_are_told_are_drawn_apart(yard: Yard) -> None:
    """Those that came together do not stay together. (One that answers no ping: a test of the gateway.)"""
    told = {(await (await yard.newcomer()).boot())["interval"] for _ in range(6)}
    usual = yard.node.settings.heartbeat_s
    assert len(told) > 1
    assert all(0.9 * usual - 1 <= each <= 1.1 * usual + 1 for each in told)


async def test_a_refused_profile_is_tried_again_and_seen(yard: Yard) -> None:
    """The offer is refused at first, as by stations that take none right after a start."""
    rude = await yard.newcomer(fallback_a=0)
    refused = iter(["Rejected", "NotSupported"])
    rude.answers["SetChargingProfile"] = lambda _: {"status": next(refused, "Accepted")}
    await rude.boot()
    status: Json = {"connectorId": 1, "errorCode": "NoError", "status": "Charging"}
    number = await rude.start(yard.ago(1))
    await rude.call("StatusNotification", status)
    await rude.samples(number, yard.clock.now(), [{"value": str(BEGIN_WH + 10)}])

    async def again() -> bool | None:
        yard.clock.advance(5)
        return True if sum(name == "SetChargingProfile" for _, name, _ in rude.asked) >= 3 else None

    await until(again, "a third attempt", timeout_s=60)
    assert (await rude.session())["open"] is True
    await rude.stop(number, yard.clock.now(), BEGIN_WH + 20)


async def test_profiles_are_told_anew_after_a_boot(yard: Yard) -> None:
    rude = await yard.newcomer()
    number = await rude.start(yard.ago(1))
    await rude.samples(number, yard.clock.now(), [{"value": str(BEGIN_WH + 10)}])

    async def offers(more_than: int) -> int | None:
        yard.clock.advance(2)
        told = sum(name == "SetChargingProfile" for _, name, _ in rude.asked)
        return told if told > more_than else None

    before = await until(lambda: offers(0), "an offer", timeout_s=60)
    await rude.boot()
    assert await until(lambda: offers(before), "an offer after the boot", timeout_s=60)
    assert (await rude.session())["open"] is True
    await rude.stop(number, yard.clock.now(), BEGIN_WH + 20)


async def test_what_was_agreed_to_and_not_done_is_read_back_and_shown_apart(yard: Yard) -> None:
    """The command says accepted; the variable still says what the station has."""
    rude = await yard.newcomer()
    rude.answers["ChangeConfiguration"] = ACCEPTED
    await rude.call("Heartbeat", {})
    unchanged = {"configurationKey": [{"key": "HeartbeatInterval", "readonly": False, "value": "900"}]}
    rude.answers["GetConfiguration"] = unchanged
    change = {"command": "set_variables", "values": [{"path": "/HeartbeatInterval", "value": "60"}]}
    told = await ask(rude, "", change)
    assert told.status_code == 200, told.text
    told = await ask(rude, "", {"command": "get_variables", "paths": ["/HeartbeatInterval"]})
    assert told.status_code == 200, told.text

    told_of = {each["kind"].lower().replace("_", ""): each for each in await commands(rude)}
    got, changed = told_of["getvariables"], told_of["setvariables"]
    assert (changed["state"], changed["status"]) == ("answered", "accepted"), "what it agreed to"
    assert "60" in json.dumps(changed["body"])
    assert "900" in json.dumps(got["data"]), "what it has"


async def test_a_car_that_draws_more_than_was_agreed_to_is_an_alarm(yard: Yard) -> None:
    """The supply has 40 A less 10 A for the building: nobody is offered the 32 A that this car takes."""
    rude = await yard.newcomer()
    await rude.boot()
    number = await rude.start(yard.ago(1))
    register_wh = BEGIN_WH

    async def alarm() -> Json | None:
        nonlocal register_wh
        yard.clock.advance(10)
        register_wh += 60
        lines = [
            {"value": "32.0", "measurand": "Current.Import", "unit": "A", "phase": f"L{line}"}
            for line in (1, 2, 3)
        ]
        await rude.samples(number, yard.clock.now(), [{"value": str(register_wh)}, *lines])
        found = await yard.rest.every(f"/alarms?station={rude.station_id}&kind=limit_ignored")
        return found[0] if found else None

    assert (await until(alarm, "an alarm", timeout_s=60))["station_id"] == rude.station_id
    await rude.stop(number, yard.clock.now(), register_wh)
