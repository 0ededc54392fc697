"""Commands to a station over REST."""

from typing import Any

import httpx
import pytest

from csms.app import Central
from csms.errors import StationOffline, StationSilent
from csms.stations.commands import (
    ClearCache,
    ClearProfiles,
    CommandResult,
    CommandStatus,
    Reset,
    SetAvailability,
    StartCharging,
    StopCharging,
    Trigger,
    TriggerKind,
    Unlock,
)
from csms.stations.model import TokenKind, TokenRef
from csms.stations.questions import TransactionReported, TransactionStep
from csms.stations.words.firmware import GetLog
from csms.stations.words.security import CertificateUse, InstallCertificate

URL = "/v1/stations/garage-1/commands"


@pytest.fixture(autouse=True)
async def station(
    manager: httpx.AsyncClient, supply: dict[str, Any], flat: dict[str, Any], answering: Any
) -> None:
    await manager.post("/v1/stations", json={"id": "garage-1", "site_id": "weavers-yard"})
    await manager.post("/v1/tokens", json={"text": "04:A1:B2:C3", "member_id": "flat-12"})


async def test_a_start_names_the_token_as_it_is_known(manager: httpx.AsyncClient, answering: Any) -> None:
    answer = await manager.post(f"{URL}/start", json={"token": "04a1b2c3", "evse": 1})
    assert (answer.status_code, answer.json()) == (200, {"status": "accepted", "detail": "", "data": None})
    ((station_id, command),) = answering.asked
    assert station_id == "garage-1"
    assert isinstance(command, StartCharging)
    assert (command.evse, command.token) == (1, TokenRef("04:A1:B2:C3", TokenKind.RFID))
    # OCPP 2.0.1, RequestStartTransactionRequest: remoteStartId is an integer (32 bits in OCPP).
    assert 1 <= command.remote_start_id < 2**31
    refused = await manager.post(f"{URL}/start", json={"token": "CAFE"})
    assert (refused.status_code, refused.json()["field"]) == (422, "token")


@pytest.mark.parametrize(
    ("path", "body", "command"),
    [
        ("reset", {}, Reset()),
        ("reset", {"hard": True, "evse": 2}, Reset(hard=True, evse=2)),
        ("unlock", {"evse": 1}, Unlock(1)),
        ("unlock", {"evse": 2, "connector": 2}, Unlock(2, 2)),
        ("availability", {"operative": False}, SetAvailability(False)),
        ("availability", {"operative": True, "evse": 1}, SetAvailability(True, 1)),
        ("trigger", {"kind": "meters", "evse": 1}, Trigger(TriggerKind.METERS, 1)),
    ],
)
async def test_each_command_is_passed_on(
    manager: httpx.AsyncClient, answering: Any, path: str, body: dict[str, Any], command: object
) -> None:
    assert (await manager.post(f"{URL}/{path}", json=body)).status_code == 200
    assert answering.asked == [("garage-1", command)]


async def test_a_refusal_is_a_result_and_the_journal_keeps_it(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, answering: Any
) -> None:
    answering.answer = CommandResult(CommandStatus.REJECTED, "Occupied")
    refused = await manager.post(f"{URL}/unlock", json={"evse": 1})
    assert (refused.status_code, refused.json()["status"]) == (200, "rejected")
    page = (await reader.get(URL)).json()
    (record,) = page["items"]
    assert record == {
        "id": record["id"],
        "station_id": "garage-1",
        "kind": "Unlock",
        "body": {"evse": 1, "connector": 1},
        "asked_by": "key:manager",
        "asked_at": "2026-11-02T11:00:00Z",
        "state": "answered",
        "status": "rejected",
        "detail": "Occupied",
        "data": None,
        "answered_at": "2026-11-02T11:00:00Z",
    }
    assert (await reader.get(f"{URL}/{record['id']}")).json() == record
    await manager.post("/v1/stations", json={"id": "garage-2"})
    assert (await reader.get(f"/v1/stations/garage-2/commands/{record['id']}")).status_code == 404


@pytest.mark.parametrize(
    ("error", "status", "code", "state"),
    [
        (StationOffline("garage-1"), 409, "station-offline", "offline"),
        (StationSilent("garage-1"), 504, "station-silent", "timed_out"),
    ],
)
async def test_a_station_that_cannot_be_asked_is_a_problem(
    manager: httpx.AsyncClient, answering: Any, error: Exception, status: int, code: str, state: str
) -> None:
    answering.answer = error
    refused = await manager.post(f"{URL}/reset", json={})
    assert (refused.status_code, refused.json()["code"]) == (status, code)
    assert (await manager.get(URL)).json()["items"][0]["state"] == state


@pytest.mark.parametrize(
    ("path", "body", "field"),
    [
        ("start", {}, "token"),
        ("start", {"token": "04A1B2C3", "evse": 0}, "evse"),
        ("stop", {"session_id": "1"}, "session_id"),
        ("reset", {"hard": "yes"}, "hard"),
        ("unlock", {}, "evse"),
        ("availability", {"operative": None}, "operative"),
        ("trigger", {"kind": "everything"}, "kind"),
    ],
)
async def test_a_wrong_command_is_not_sent(
    manager: httpx.AsyncClient, answering: Any, path: str, body: dict[str, Any], field: str
) -> None:
    refused = await manager.post(f"{URL}/{path}", json=body)
    assert (refused.status_code, refused.json()["field"]) == (422, field)
    assert answering.asked == []


async def test_an_unknown_station_and_a_reader_send_nothing(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, answering: Any
) -> None:
    assert (await manager.post("/v1/stations/nothing/commands/reset", json={})).status_code == 404
    assert (await manager.get("/v1/stations/nothing/commands")).status_code == 404
    assert (await reader.post(f"{URL}/reset", json={})).status_code == 403
    assert answering.asked == []


async def begin(central: Central, token: str = "04A1B2C3") -> int:
    """The station tells of a start; the session's number."""
    began = TransactionReported(
        step=TransactionStep.BEGAN,
        transaction_id="tx-1",
        at=central.clock.now(),
        evse=1,
        token=TokenRef(token),
        register_wh=1000,
    )
    await central.dispatcher.ask("garage-1", began, central.clock.now())
    return (await central.sessions.by_transaction("garage-1", "tx-1")).id


async def test_a_stop_names_the_stations_transaction(
    manager: httpx.AsyncClient, central: Central, answering: Any
) -> None:
    number = await begin(central)
    answer = await manager.post(f"{URL}/stop", json={"session_id": number})
    assert answer.status_code == 200
    assert answering.asked == [("garage-1", StopCharging("tx-1"))]
    await manager.post("/v1/stations", json={"id": "garage-2"})
    elsewhere = await manager.post("/v1/stations/garage-2/commands/stop", json={"session_id": number})
    assert (elsewhere.status_code, elsewhere.json()["field"]) == (422, "session_id")
    assert (await manager.post(f"{URL}/stop", json={"session_id": number + 1})).status_code == 404
    await central.sessions.close(number, "somebody")
    assert (await manager.post(f"{URL}/stop", json={"session_id": number})).status_code == 409
    assert len(answering.asked) == 1


async def test_a_station_without_a_socket_is_offline(
    manager: httpx.AsyncClient, central: Central, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(central, "commands", central.gateway.registry)
    refused = await manager.post(f"{URL}/reset", json={})
    assert (refused.status_code, refused.json()["code"]) == (409, "station-offline")
    assert (await manager.get(URL)).json()["items"][0]["state"] == "offline"


@pytest.mark.parametrize(
    ("body", "command"),
    [
        ({"command": "clear_cache"}, ClearCache()),
        (
            {"command": "get_log", "request_id": 4, "location": "https://yard.example/up"},
            GetLog(request_id=4, location="https://yard.example/up"),
        ),
        (
            {"command": "install_certificate", "use": "central_root", "certificate": "-----BEGIN\nMIIB\n"},
            InstallCertificate(CertificateUse.CENTRAL_ROOT, "-----BEGIN\nMIIB\n"),
        ),
    ],
)
async def test_any_command_is_passed_on_and_journaled(
    manager: httpx.AsyncClient, answering: Any, body: dict[str, Any], command: object
) -> None:
    answer = await manager.post(URL, json=body)
    assert (answer.status_code, answer.json()["status"]) == (200, "accepted")
    assert answering.asked == [("garage-1", command)]
    (record,) = (await manager.get(URL)).json()["items"]
    assert (record["kind"], record["asked_by"]) == (type(command).__name__, "key:manager")


async def test_a_wrong_command_of_any_kind_is_not_sent(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, answering: Any
) -> None:
    refused = await manager.post(URL, json={"command": "get_log"})
    assert (refused.status_code, refused.json()["field"]) == (422, "get_log.location")
    assert (await manager.post(URL, json={"command": "dance"})).status_code == 422
    assert (await reader.post(URL, json={"command": "clear_cache"})).status_code == 403
    assert (
        await manager.post("/v1/stations/nothing/commands", json={"command": "clear_cache"})
    ).status_code == 404
    assert answering.asked == []


async def test_limits_by_hand_are_refused_where_the_supply_is_shared(
    manager: httpx.AsyncClient, answering: Any
) -> None:
    body = {"command": "clear_profiles", "id": 3}
    assert (await manager.post(URL, json=body)).status_code == 200
    await manager.post(
        "/v1/stations", json={"id": "garage-3", "site_id": "weavers-yard", "circuit_id": "main"}
    )
    refused = await manager.post("/v1/stations/garage-3/commands", json=body)
    assert (refused.status_code, refused.json()["code"]) == (409, "conflict")
    assert answering.asked == [("garage-1", ClearProfiles(3))]
