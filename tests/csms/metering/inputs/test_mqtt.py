"""Topics, paths and times in messages; who may read them. The broker is a real one."""

import asyncio
import json
import logging
import shutil
import ssl
import sys
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from csms.metering.inputs.mqtt import LinePlace, MqttInput
from tests.csms.metering.conftest import NOON, SUPPLY, Yard
from tests.csms.metering.rigs import MOSQUITTO, MqttRig, until

needs_broker = pytest.mark.skipif(MOSQUITTO is None, reason="no mosquitto here (apt install mosquitto)")
LINES = {"L1": "a", "L2": "b", "L3": "c"}
SECRET = "warp-and-weft-17"


async def done(*command: str) -> None:
    """A command has ended well."""
    process = await asyncio.create_subprocess_exec(
        *command, stdout=asyncio.subprocess.DEVNULL, stderr=asyncio.subprocess.DEVNULL
    )
    assert await process.wait() == 0


def meter(**more: Any) -> MqttInput:
    given = {"host": "broker.mill", "topic": "yard/supply", "lines": LINES}
    return MqttInput.parse(given | more, "meter.input")


def test_what_is_left_out_is_usual() -> None:
    assert (meter().port, meter(tls=True).port, meter().factor) == (1883, 8883, 1.0)
    assert meter().lines["L2"] == LinePlace("yard/supply", "b")
    assert meter().topics == ("yard/supply",)


def test_a_line_may_have_its_own_topic() -> None:
    found = meter(topic=None, lines={"L1": {"topic": "m/1"}, "L2": {"topic": "m/2", "path": "amps"}})
    assert found.topics == ("m/1", "m/2")
    assert found.read("m/1", b"4.25", NOON) == ({"L1": 4.25}, NOON, "")
    assert found.read("m/2", b'{"amps": "7"}', NOON) == ({"L2": 7.0}, NOON, "")


def test_what_the_message_has_not_is_missing() -> None:
    told, at, problem = meter().read("yard/supply", b'{"a": 1, "c": null}', NOON)
    assert (told, at) == ({"L1": 1.0, "L2": None, "L3": None}, NOON)
    assert problem == "the message has no current of L2, L3"


@pytest.mark.parametrize("payload", [b"", b"{", b"\xff", b"NaN", b'{"a": 1,}', b"[" * 100_000, None, 3])
def test_garbage_has_no_lines(payload: object) -> None:
    told, _, problem = meter().read("yard/supply", payload, NOON)
    assert set(told.values()) == {None}
    assert problem


def test_the_message_may_have_its_own_time() -> None:
    timed = meter(time="t")
    message = {"a": 1, "b": 2, "c": 3, "t": "2026-11-02T12:59:58+02:00"}
    assert timed.read("yard/supply", json.dumps(message).encode(), NOON)[1] == NOON - timedelta(seconds=2)
    message["t"] = str(int(NOON.timestamp()))
    for text in ("null", '"yesterday"', '"2026-11-02T12:00:00"', "true", "1e300", '"1793617200"'):
        body = f'{{"a": 1, "b": 2, "c": 3, "t": {text}}}'.encode()
        assert timed.read("yard/supply", body, NOON)[1] is None
    seconds = f'{{"a": 1, "b": 2, "c": 3, "t": {NOON.timestamp()}}}'.encode()
    assert timed.read("yard/supply", seconds, NOON)[1] == NOON


@needs_broker
async def test_what_the_broker_kept_is_not_of_now(yard: Yard, tmp_path: Path) -> None:
    rig = MqttRig(tmp_path)
    await rig.start()
    await rig.publish(rig.topic, '{"currents": [{"milliamps": 1}]}', retain=True)
    await yard.measure(rig.config)
    await yard.meters.start()
    # The kept message is the first that a subscriber gets; a fresh one is the first that is heard.
    while yard.heard.readings.empty():
        await rig.tell((4.0, 5.0, 6.0))
    assert await yard.heard.next() == {"L1": 4.0, "L2": 5.0, "L3": 6.0}
    await yard.meters.stop()
    await rig.stop()


@needs_broker
async def test_lines_of_several_topics_are_one_reading(yard: Yard, tmp_path: Path) -> None:
    lines = {line: {"topic": f"m/{line}"} for line in ("L1", "L2", "L3")}
    rig = MqttRig(tmp_path, topic=None, lines=lines, factor=1)
    await rig.start()
    await yard.measure(rig.config)
    await yard.meters.start()
    told = {"L1": 4.0, "L2": 5.0, "L3": 6.0}
    found: dict[str, float] = {}
    while found != told:
        for line, amps in told.items():
            await rig.publish(f"m/{line}", str(amps))
        while not yard.heard.readings.empty():
            found = await yard.heard.next()
    await yard.meters.stop()
    await rig.stop()


@needs_broker
async def test_the_password_comes_from_its_file_and_is_shown_nowhere(
    yard: Yard, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    people = tmp_path / "people"
    await done("mosquitto_passwd", "-b", "-c", str(people), "yard", SECRET)
    login = {"user": "yard", "password_file": "broker.pw"}
    rig = MqttRig(tmp_path, f"allow_anonymous false\npassword_file {people}", **login)
    rig.login = {"username": "yard", "password": SECRET}
    await rig.start()
    circuit = await yard.measure(rig.config)
    await yard.meters.start()
    await until(lambda: "no file secrets/broker.pw" in yard.meters.shown(SUPPLY).error)
    (tmp_path / "secrets").mkdir()
    (tmp_path / "secrets" / "broker.pw").write_text("not that one\n")
    await until(lambda: "ot authori" in yard.meters.shown(SUPPLY).error)
    (tmp_path / "secrets" / "broker.pw").write_text(f"{SECRET}\n")
    while yard.heard.readings.empty():
        await rig.tell((4.0, 5.0, 6.0))
    assert await yard.heard.next() == {"L1": 4.0, "L2": 5.0, "L3": 6.0}
    assert SECRET not in caplog.text + repr(circuit) + repr(yard.meters.shown(SUPPLY))
    await yard.meters.stop()
    await rig.stop()


@needs_broker
@pytest.mark.skipif(shutil.which("openssl") is None, reason="no openssl here to make a certificate")
# The MQTT package leaves the socket of a failed handshake to the garbage collector.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
async def test_a_broker_with_a_certificate_of_its_own_is_trusted_by_its_file(
    yard: Yard, tmp_path: Path
) -> None:
    (tmp_path / "secrets").mkdir()
    cert, key = tmp_path / "secrets" / "mill-ca.pem", tmp_path / "broker.key"
    made = f"req -x509 -newkey rsa:2048 -nodes -days 1 -subj /CN=broker -keyout {key} -out {cert}"
    await done("openssl", *made.split(), "-addext", "subjectAltName=IP:127.0.0.1")
    rig = MqttRig(tmp_path, f"allow_anonymous true\ncertfile {cert}\nkeyfile {key}", tls=True)
    rig.login = {"tls_context": ssl.create_default_context(cafile=cert)}
    await rig.start()
    await yard.measure(rig.config)
    await yard.meters.start()
    await until(lambda: "certificate verify failed" in yard.meters.shown(SUPPLY).error)
    await yard.meters.stop()
    await yard.measure(rig.config | {"ca_file": "mill-ca.pem"})
    await yard.meters.start()
    while yard.heard.readings.empty():
        await rig.tell((4.0, 5.0, 6.0))
    assert await yard.heard.next() == {"L1": 4.0, "L2": 5.0, "L3": 6.0}
    await yard.meters.stop()
    await rig.stop()


async def test_a_file_that_is_no_certificate_is_said(yard: Yard, tmp_path: Path) -> None:
    (tmp_path / "secrets").mkdir()
    (tmp_path / "secrets" / "mill-ca.pem").write_text("no certificate")
    await yard.measure(
        {
            "kind": "mqtt",
            "host": "127.0.0.1",
            "topic": "t",
            "lines": LINES,
            "tls": True,
            "ca_file": "mill-ca.pem",
        }
    )
    await yard.meters.start()
    await until(lambda: "mill-ca.pem is no certificate" in yard.meters.shown(SUPPLY).error)


async def test_without_the_package_it_says_what_to_install(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "aiomqtt", None)
    await yard.measure({"kind": "mqtt", "host": "127.0.0.1", "topic": "t", "lines": LINES})
    await yard.meters.start()
    await until(lambda: "install phaseyard[meters]" in yard.meters.shown(SUPPLY).error)
