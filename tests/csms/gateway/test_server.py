"""At the door, with real sockets."""

import asyncio
import socket as sockets

import pytest
from websockets.asyncio.client import connect
from websockets.exceptions import ConnectionClosedError, InvalidStatus
from websockets.frames import Frame, Opcode
from websockets.typing import Subprotocol

from csms.clock import ManualClock
from csms.gateway.server import GatewaySettings
from csms.ocpp.version import Version
from csms.stations.model import Registration
from tests.csms.gateway.stage import KEY, Charger, Stage, basic

HEARTBEAT = {"currentTime": "2026-11-02T11:00:00.000Z"}


async def test_a_station_that_is_known_is_served(stage: Stage) -> None:
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01") as charger:
        answer = await charger.call("Heartbeat", {})
        assert answer["currentTime"].startswith("2026-11-02T11:00:00")
        assert stage.yard.protocols == {"BAY-01": "1.6"}
        assert stage.registry.station_ids == {"BAY-01"}
    assert await stage.yard.lost_sockets.get() == ("BAY-01", 1, True, "closed with 1000")


@pytest.mark.parametrize(
    "path", ["/ocpp/BAY%2001/", "/ocpp//BAY%2001?x=1", "/ocpp/BAY 01".replace(" ", "%20")]
)
async def test_the_path_is_read_with_tolerance(stage: Stage, path: str) -> None:
    stage.yard.add("BAY 01")
    async with stage.charger("BAY 01", path=path) as charger:
        await charger.call("Heartbeat", {})


@pytest.mark.parametrize("path", ["/ocpp/BAY-99", "/ocpp/", "/", "/ocpp/BAY-01/more", "/ocpp/%FF"])
async def test_an_unknown_station_gets_404(stage: Stage, path: str) -> None:
    stage.yard.add("BAY-01")
    with pytest.raises(InvalidStatus) as refusal:
        async with stage.charger("BAY-01", path=path):
            pass
    assert refusal.value.response.status_code == 404
    assert len(stage.registry) == 0


@pytest.mark.parametrize("password", [bytes.fromhex(KEY), KEY.encode(), KEY.lower().encode()])
async def test_the_key_is_taken_in_its_three_forms(stage: Stage, password: bytes) -> None:
    stage.yard.add("AL1000", key=KEY)
    async with stage.charger("AL1000", password=password) as charger:
        await charger.call("Heartbeat", {})


@pytest.mark.parametrize("version", [Version.OCPP16, Version.OCPP201])
async def test_a_plain_key_is_taken_as_it_is(stage: Stage, version: Version) -> None:
    stage.yard.add("BAY-01", key="spindle:and:shuttle")
    async with stage.charger("BAY-01", version, password=b"spindle:and:shuttle") as charger:
        await charger.call("Heartbeat", {})


@pytest.mark.parametrize(
    "header",
    [
        None,
        basic(b"AL1000", b"wrong"),
        basic(b"AL1000", b""),
        basic(b"AL1001", bytes.fromhex(KEY)),
        basic(b"al1000", bytes.fromhex(KEY)),
        "Bearer " + KEY,
        "Basic nonsense",
    ],
)
async def test_a_wrong_key_gets_401_before_the_upgrade(stage: Stage, header: str | None) -> None:
    stage.yard.add("AL1000", key=KEY)
    with pytest.raises(InvalidStatus) as refusal:
        async with connect(
            stage.url("/ocpp/AL1000"),
            subprotocols=[Subprotocol("ocpp1.6")],
            additional_headers={"Authorization": header} if header else {},
            proxy=None,
        ):
            pass
    assert refusal.value.response.status_code == 401
    assert refusal.value.response.headers["WWW-Authenticate"] == 'Basic realm="Phaseyard"'
    assert KEY not in (refusal.value.response.body or b"").decode()


async def test_two_authorization_headers_are_none(stage: Stage) -> None:
    stage.yard.add("AL1000", key=KEY)
    right = basic(b"AL1000", bytes.fromhex(KEY))
    with pytest.raises(InvalidStatus) as refusal:
        async with connect(
            stage.url("/ocpp/AL1000"),
            subprotocols=[Subprotocol("ocpp1.6")],
            additional_headers=[("Authorization", right), ("Authorization", right)],
            proxy=None,
        ):
            pass
    assert refusal.value.response.status_code == 401


@pytest.mark.parametrize("offers", [(), ("ocpp1.5",), ("ocpp2.2", "ocpp2.0")])
async def test_without_a_common_version_the_handshake_is_completed_and_the_socket_closed(
    stage: Stage, offers: tuple[str, ...]
) -> None:
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01", offers=offers) as charger:
        assert charger.socket.subprotocol is None
        with pytest.raises(ConnectionClosedError):
            await charger.socket.recv()
        assert (await charger.closed())[0] == 1002
    assert len(stage.registry) == 0


@pytest.mark.parametrize(
    ("offers", "spoken"),
    [
        (("ocpp1.6", "ocpp2.0.1"), "1.6"),
        (("ocpp2.2", "ocpp2.0.1", "ocpp1.6"), "2.0.1"),
        (("ocpp2.1", "ocpp2.0.1", "ocpp1.6"), "2.1"),
        (("OCPP1.6",), "1.6"),
    ],
)
async def test_the_first_version_that_both_speak_is_spoken(
    stage: Stage, offers: tuple[str, ...], spoken: str
) -> None:
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01", Version(spoken), offers=offers) as charger:
        assert charger.socket.subprotocol in offers
        await charger.call("Heartbeat", {})
    assert stage.yard.protocols["BAY-01"] == spoken


@pytest.mark.parametrize(("version", "compressed"), [(Version.OCPP16, False), (Version.OCPP201, True)])
async def test_compression_is_agreed_to_with_2x_only(
    stage: Stage, version: Version, compressed: bool
) -> None:
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01", version) as charger:
        response = charger.socket.response
        assert response is not None
        assert ("Sec-WebSocket-Extensions" in response.headers) is compressed
        await charger.call("Heartbeat", {})


async def test_a_client_that_offers_no_extension_is_welcome_too(stage: Stage) -> None:
    stage.yard.add("BAY-01")
    async with connect(
        stage.url("/ocpp/BAY-01"), subprotocols=[Subprotocol("ocpp1.6")], compression=None, proxy=None
    ) as socket:
        await socket.send('[2,"1","Heartbeat",{}]')
        assert '[3,"1"' in str(await socket.recv())


async def test_a_failing_database_says_come_again(stage: Stage) -> None:
    stage.yard.add("BAY-01")
    stage.yard.broken = True
    with pytest.raises(InvalidStatus) as refusal:
        async with stage.charger("BAY-01"):
            pass
    assert refusal.value.response.status_code == 503


async def test_a_station_deleted_between_door_and_seat_is_sent_away(
    stage: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    stage.yard.add("BAY-01")
    known = stage.yard.known.pop("BAY-01")

    async def identify(identity: str) -> object:
        return known

    monkeypatch.setattr(stage.yard, "identify", identify)
    async with stage.charger("BAY-01") as charger:
        assert (await charger.closed())[0] == 1008


async def test_a_socket_that_cannot_be_written_down_is_closed(
    stage: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    stage.yard.add("BAY-01")

    async def connected(*_: object) -> int:
        raise OSError("the database is away")

    monkeypatch.setattr(stage.yard, "connected", connected)
    async with stage.charger("BAY-01") as charger:
        assert (await charger.closed())[0] == 1011
    assert len(stage.registry) == 0


async def test_a_giant_frame_ends_its_socket_and_is_told(clock: ManualClock) -> None:
    stage = Stage(clock, GatewaySettings(max_frame_bytes=100_000))
    await stage.gateway.open()
    stage.yard.add("BAY-01")
    stage.yard.add("BAY-02")
    async with stage.charger("BAY-01") as giant, stage.charger("BAY-02") as other:
        await giant.socket.send('[2,"1","DataTransfer",{"data":"' + "x" * 100_000)
        assert (await giant.closed())[0] == 1009
        await other.call("Heartbeat", {})
        assert (await stage.yard.lost_sockets.get())[0] == "BAY-01"
    assert stage.shelf.kept == [("BAY-01", b"", "a frame beyond the limit")]
    await stage.gateway.close()


async def test_something_that_is_no_websocket_harms_nobody(stage: Stage) -> None:
    stage.yard.add("BAY-01")
    with sockets.create_connection(("127.0.0.1", stage.gateway.port)) as raw:
        raw.sendall(b"\x16\x03\x01\x00\xa5\x01\x00\x00\xa1")
    async with stage.charger("BAY-01") as charger:
        await charger.call("Heartbeat", {})


async def test_closing_says_going_away_and_what_had_come_is_carried_out(clock: ManualClock) -> None:
    stage = Stage(clock)
    await stage.gateway.open()
    stage.yard.add("BAY-01", Registration.ACCEPTED)
    async with stage.charger("BAY-01") as charger:
        await charger.call("Heartbeat", {})
        meters = {
            "connectorId": 1,
            "meterValue": [{"timestamp": "2026-11-02T11:00:00Z", "sampledValue": [{"value": "1"}]}],
        }
        await charger.call("MeterValues", meters)
        await stage.gateway.close()
        assert (await charger.closed())[0] == 1001
    assert len(stage.owners.meters) == 1
    assert len(stage.registry) == 0


def without_pongs(charger: Charger) -> list[bytes]:
    """The charger answers no ping any more; the pings that it has got."""
    got: list[bytes] = []
    send = charger.socket.protocol.send_frame

    def send_frame(frame: Frame) -> None:
        if frame.opcode is Opcode.PONG:
            got.append(bytes(frame.data))
        else:
            send(frame)

    charger.socket.protocol.send_frame = send_frame  # type: ignore[method-assign]
    return got


async def test_who_answers_no_ping_lives_while_it_talks_and_is_gone_when_it_is_silent(
    clock: ManualClock,
) -> None:
    stage = Stage(clock, GatewaySettings(ping_interval_s=0.5))
    stage.yard.add("bay-1")
    await stage.gateway.open()
    try:
        async with stage.charger("bay-1") as charger:
            pings = without_pongs(charger)
            async with asyncio.timeout(60):
                while len(pings) < 5:
                    assert "currentTime" in await charger.call("Heartbeat", {})
                    await asyncio.sleep(0.02)
                assert await charger.closed() == (1011, "no sign of life")
    finally:
        await stage.gateway.close()
