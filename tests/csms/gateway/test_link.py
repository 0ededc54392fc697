"""What a station says and what it hears, over a real socket."""

import asyncio
import json
from typing import Any

import pytest
from ocpp.v16 import ChargePoint as ChargePoint16
from ocpp.v16 import call as call16
from ocpp.v201 import ChargePoint as ChargePoint201
from ocpp.v201 import call as call201

from csms.clock import ManualClock
from csms.ocpp.version import Version
from csms.stations.commands import ClearCache, CommandStatus
from csms.stations.events import StatusReported
from csms.stations.model import Registration
from csms.stations.questions import TransactionReported
from tests.csms.gateway.stage import Stage, settings

BOOT = {"chargePointVendor": "Mill Works", "chargePointModel": "W1"}
START = {"connectorId": 1, "idTag": "04AB11CD", "meterStart": 1200, "timestamp": "2026-11-02T11:00:00Z"}


def meters(register: int = 1, **changes: object) -> dict[str, Any]:
    sample = {"timestamp": "2026-11-02T11:00:00Z", "sampledValue": [{"value": str(register)}]}
    return {"connectorId": 1, "meterValue": [sample], **changes}


@pytest.fixture
async def one(stage: Stage) -> Stage:
    """The stage with one station that is known and accepted."""
    stage.yard.add("BAY-01")
    return stage


@pytest.mark.parametrize(
    ("text", "answer", "reason"),
    [
        ("hello", None, "the message is not JSON"),
        ('[2,"m","Heartbeat",{', [4, "m", "FormationViolation"], "the message is not JSON"),
        (',[2,"m","Heartbeat",{}]', None, "the message is not JSON"),
        ('[2,"m","Heartbeat",{}][2,"n","Heartbeat",{}]', [4, "m", "FormationViolation"], "not JSON"),
        ('{"a":1}', None, "not a JSON array"),
        ('[2,17,"Heartbeat",{}]', None, "the message id"),
        ('[2,"m",["Heartbeat"],{}]', [4, "m", "FormationViolation"], "the action is not a text"),
        ('[2,"m","Heartbeat",7]', [4, "m", "FormationViolation"], "the payload is not a JSON object"),
        ('[2,"m","A",' + "[" * 60 + "]" * 60 + "]", [4, "m", "FormationViolation"], "nested deeper"),
        ("[" * 5_000 + "]" * 5_000, None, "nested deeper"),
        ('[9,"m","Heartbeat",{}]', None, "there is no message type 9"),
        (b"\x00\x01", None, "a binary frame"),
        ('[2,"m","Unheard",{}]', [4, "m", "NotImplemented"], "has no action Unheard"),
        ('[2,"m","Reset",{"type":"Hard"}]', [4, "m", "NotSupported"], "not supported here"),
        ('[2,"m","Authorize",{}]', [4, "m", "OccurenceConstraintViolation"], "idTag: is missing"),
        ('[2,"m","Authorize",{"idTag":{}}]', [4, "m", "TypeConstraintViolation"], "idTag: must be"),
    ],
)
async def test_no_frame_ends_the_socket(
    one: Stage, text: str | bytes, answer: list[Any] | None, reason: str
) -> None:
    async with one.charger("BAY-01") as charger:
        await charger.socket.send(text)
        if answer is not None:
            assert (await charger.receive())[:3] == answer
        assert "currentTime" in await charger.call("Heartbeat", {})
    raw = text if isinstance(text, bytes) else text.encode()
    assert [(station, frame) for station, frame, _ in one.shelf.kept] == [("BAY-01", raw)]
    assert reason in one.shelf.reasons[0]


async def test_2x_hears_of_what_could_not_be_read_under_minus_one(one: Stage) -> None:
    async with one.charger("BAY-01", Version.OCPP201) as charger:
        await charger.socket.send('[2,"m","Heartbeat",{')
        assert (await charger.receive())[:3] == [4, "-1", "RpcFrameworkError"]
        assert "currentTime" in await charger.call("Heartbeat", {})


async def test_a_stream_of_garbage_is_cut_off(clock: ManualClock) -> None:
    stage = Stage(clock, settings(garbage_limit=5))
    await stage.gateway.open()
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01") as charger:
        for _ in range(5):
            await charger.socket.send("hello")
        assert await charger.closed() == (1008, "too many unreadable messages")
    assert len(stage.shelf.kept) == 5
    assert (await stage.yard.lost_sockets.get())[3] == "too many unreadable messages"
    await stage.gateway.close()


async def test_now_and_then_garbage_is_forgiven(clock: ManualClock) -> None:
    stage = Stage(clock, settings(garbage_limit=3))
    await stage.gateway.open()
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01") as charger:
        for _ in range(6):
            await charger.socket.send("hello")
            for _ in range(20):
                await charger.call("Heartbeat", {})
    assert len(stage.shelf.kept) == 6
    await stage.gateway.close()


async def test_a_full_quarantine_disk_stops_nothing(one: Stage, caplog: pytest.LogCaptureFixture) -> None:
    one.shelf.broken = True
    async with one.charger("BAY-01") as charger:
        await charger.socket.send("hello")
        await charger.call("Heartbeat", {})
    assert "could not be put aside" in caplog.text


# ---- registration ---------------------------------------------------------------------


@pytest.mark.parametrize("registration", [Registration.PENDING, Registration.REJECTED])
async def test_before_acceptance_only_the_boot_is_heard(stage: Stage, registration: Registration) -> None:
    stage.yard.add("BAY-01", registration)
    async with stage.charger("BAY-01") as charger:
        for action, payload in [("Heartbeat", {}), ("StartTransaction", START), ("MeterValues", meters())]:
            assert (await charger.call(action, payload))[2] == "SecurityError"
        assert stage.owners.told == []
        assert (await charger.call("BootNotification", BOOT))["status"] == "Accepted"
        assert (await charger.call("StartTransaction", START))["transactionId"] == 7


async def test_a_pending_boot_leaves_the_station_waiting(stage: Stage) -> None:
    stage.yard.add("BAY-01")
    stage.owners.registration = Registration.PENDING
    async with stage.charger("BAY-01", Version.OCPP201) as charger:
        boot = {"reason": "PowerUp", "chargingStation": {"vendorName": "Mill Works", "model": "W1"}}
        answer = await charger.call("BootNotification", boot)
        assert (answer["status"], answer["interval"]) == ("Pending", 300)
        assert (await charger.call("Heartbeat", {}))[2] == "SecurityError"


async def test_a_reconnect_without_boot_is_served_at_once(one: Stage) -> None:
    async with one.charger("BAY-01") as charger:
        await charger.call("BootNotification", BOOT)
    async with one.charger("BAY-01") as charger:
        assert (await charger.call("StartTransaction", START))["transactionId"] == 7


async def test_messages_right_behind_the_boot_find_the_station_accepted(stage: Stage) -> None:
    stage.yard.add("BAY-01", Registration.PENDING)
    async with stage.charger("BAY-01") as charger:
        await charger.post("BootNotification", BOOT)
        await charger.post("StartTransaction", START)
        assert (await charger.receive())[2]["status"] == "Accepted"
        assert (await charger.receive())[2]["transactionId"] == 7


# ---- order and commitment -------------------------------------------------------------


async def test_a_call_is_answered_when_its_owner_has_committed(one: Stage) -> None:
    one.owners.hold = asyncio.Event()
    async with one.charger("BAY-01") as charger:
        message_id = await charger.post("MeterValues", meters())
        await one.owners.arrived.get()
        # Answers to us still come through, so a pong proves that nothing else was sent before it.
        await (await charger.socket.ping())
        assert one.owners.told == []
        one.owners.hold.set()
        assert await charger.receive() == [3, message_id, {}]
        assert len(one.owners.told) == 1


async def test_calls_are_handled_one_after_the_other_in_order(one: Stage) -> None:
    async with one.charger("BAY-01") as charger:
        sent = [await charger.post("MeterValues", meters(register)) for register in range(1, 200)]
        assert [(await charger.receive())[1] for _ in sent] == sent
    assert [event.readings[0].register_wh for event in one.owners.meters] == list(range(1, 200))


async def test_an_answer_to_our_command_is_heard_while_a_call_is_being_handled(one: Stage) -> None:
    one.owners.hold = asyncio.Event()
    async with one.charger("BAY-01") as charger:
        await charger.post("MeterValues", meters())
        await one.owners.arrived.get()
        asked = asyncio.ensure_future(one.registry.ask("BAY-01", ClearCache()))
        call_id, _ = await charger.expect_call("ClearCache")
        await charger.send(3, call_id, {"status": "Accepted"})
        assert (await asked).status is CommandStatus.ACCEPTED
        one.owners.hold.set()
        assert (await charger.receive())[0] == 3


async def test_a_repeat_is_answered_alike_and_kept_once(one: Stage) -> None:
    async with one.charger("BAY-01") as charger:
        answers = []
        for _ in range(3):
            await charger.send(2, "start", "StartTransaction", START)
            answers.append(await charger.receive())
        assert answers[0] == answers[1] == answers[2]
        assert answers[0][2]["transactionId"] == 7
    assert len(one.owners.told) == 1


async def test_what_cannot_be_kept_is_not_answered_as_if_it_were(
    one: Stage, caplog: pytest.LogCaptureFixture
) -> None:
    one.owners.fail = True
    async with one.charger("BAY-01") as charger:
        assert (await charger.call("StartTransaction", START))[2] == "InternalError"
        one.owners.fail = False
        assert (await charger.call("StartTransaction", START))["transactionId"] == 7
    assert one.shelf.reasons == ["StartTransaction: OSError"]
    assert "could not be handled" in caplog.text


async def test_what_had_come_is_kept_although_the_socket_ended(one: Stage) -> None:
    one.owners.hold = asyncio.Event()
    async with one.charger("BAY-01") as charger:
        await charger.post("MeterValues", meters(1))
        await charger.post("MeterValues", meters(2))
        await one.owners.arrived.get()
    await one.yard.lost_sockets.get()
    one.owners.hold.set()
    await one.owners.arrived.get()
    await one.gateway.close()
    assert [event.readings[0].register_wh for event in one.owners.meters] == [1, 2]


async def test_every_message_is_a_sign_of_life(one: Stage) -> None:
    async with one.charger("BAY-01") as charger:
        await charger.call("Heartbeat", {})
        await charger.call("MeterValues", meters())
    await one.yard.lost_sockets.get()
    assert one.yard.signs_of_life == 2


# ---- messages about transactions ------------------------------------------------------


@pytest.mark.parametrize(
    ("version", "action", "payload"),
    [
        (Version.OCPP16, "MeterValues", {"connectorId": 1}),
        (Version.OCPP16, "MeterValues", {"meterValue": "none"}),
        (Version.OCPP16, "StopTransaction", {"reason": {}}),
        (Version.OCPP201, "TransactionEvent", {"seqNo": []}),
        (Version.OCPP201, "MeterValues", {"evseId": {}}),
    ],
)
async def test_a_message_about_a_transaction_gets_a_result_whatever_it_is(
    one: Stage, version: Version, action: str, payload: dict[str, Any]
) -> None:
    async with one.charger("BAY-01", version) as charger:
        await charger.send(2, "m", action, payload)
        assert await charger.receive() == [3, "m", {}]
    frame = json.dumps([2, "m", action, payload]).encode()
    assert [kept for _, kept, _ in one.shelf.kept] == [frame]


async def test_a_start_that_nobody_can_read_is_refused_and_kept(one: Stage) -> None:
    async with one.charger("BAY-01") as charger:
        answer = await charger.call("StartTransaction", {"idTag": {}})
        assert answer[2] == "OccurenceConstraintViolation"
    assert len(one.shelf.kept) == 1


async def test_a_start_that_breaks_the_schema_is_handed_on_answered_and_kept(one: Stage) -> None:
    async with one.charger("BAY-01") as charger:
        start = {"connectorId": "one", "idTag": "04AB11CD", "meterStart": 1200.0}
        assert (await charger.call("StartTransaction", start))["transactionId"] == 7
    (told,) = one.owners.told
    assert isinstance(told, TransactionReported)
    assert told.register_wh == 1200
    assert any("connectorId" in deviation for deviation in told.deviations)
    assert len(one.shelf.kept) == 1


async def test_small_deviations_are_not_worth_keeping_a_frame(one: Stage) -> None:
    async with one.charger("BAY-01") as charger:
        status = {"connectorId": 1.0, "status": "available", "errorCode": "NoError", "info": "", "mood": 1}
        assert await charger.call("StatusNotification", status) == {}
    (told,) = one.owners.told
    assert isinstance(told, StatusReported)
    assert (told.evse, told.status.value) == (1, "available")
    assert one.shelf.kept == []


# ---- the reference package as a station -----------------------------------------------


async def test_a_charge_by_the_reference_package_1_6(one: Stage) -> None:
    async with one.charger("BAY-01") as charger:
        point = ChargePoint16("BAY-01", charger.socket)
        listening = asyncio.ensure_future(point.start())
        booted = await point.call(call16.BootNotification("W1", "Mill Works"))
        assert (booted.status, booted.interval) == ("Accepted", 300)
        allowed = await point.call(call16.Authorize("04AB11CD"))
        assert allowed.id_tag_info["status"] == "Accepted"
        started = await point.call(call16.StartTransaction(1, "04AB11CD", 1200, "2026-11-02T11:00:00Z"))
        assert started.transaction_id == 7
        stopped = await point.call(call16.StopTransaction(9200, "2026-11-02T12:00:00Z", 7))
        assert stopped is not None
        listening.cancel()
    assert len(one.owners.told) == 4
    assert one.shelf.kept == []


async def test_a_charge_by_the_reference_package_2_0_1(one: Stage) -> None:
    async with one.charger("BAY-01", Version.OCPP201) as charger:
        point = ChargePoint201("BAY-01", charger.socket)
        listening = asyncio.ensure_future(point.start())
        station = {"model": "W1", "vendor_name": "Mill Works"}
        assert (await point.call(call201.BootNotification(station, "PowerUp"))).status == "Accepted"
        for number, (kind, trigger) in enumerate(
            [("Started", "CablePluggedIn"), ("Updated", "Authorized"), ("Ended", "EVDeparted")]
        ):
            event = call201.TransactionEvent(
                event_type=kind,
                timestamp=f"2026-11-02T1{number}:00:00Z",
                trigger_reason=trigger,
                seq_no=number,
                transaction_info={"transaction_id": "t-1"},
                id_token={"id_token": "04AB11CD", "type": "ISO14443"} if number == 1 else None,
            )
            answer = await point.call(event)
            assert (answer.id_token_info is not None) is (number == 1)
        listening.cancel()
    assert len(one.owners.told) == 4
    assert one.shelf.kept == []
