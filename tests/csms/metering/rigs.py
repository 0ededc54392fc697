"""One real meter of each kind for the tests: a broker, a Modbus server, a socket, a charger's word.

All show the same lines; `tell` returns when the meter shows them, not when they are heard.
"""

import asyncio
import getpass
import json
import shutil
import socket
import struct
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, ClassVar

import aiomqtt
from pymodbus.constants import ExcCodes
from pymodbus.server import ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

from csms.metering.building import LineReading
from csms.metering.building_service import BuildingService
from csms.metering.telegram import crc16
from csms.sites.model import LINES, Circuit
from csms.stations.events import MetersReported
from csms.stations.model import PerLine, Reading

MOSQUITTO = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")
Config = dict[str, Any]


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


async def connected_to(port: int) -> None:
    """Until somebody listens on the port; TimeoutError after 10 s."""
    async with asyncio.timeout(10):
        while True:
            with suppress(OSError):
                _, writer = await asyncio.open_connection("127.0.0.1", port)
                writer.close()
                return
            await asyncio.sleep(0.02)


class Rig:
    """A meter. `wrong`: settings that are refused, and the field."""

    kind: ClassVar[str]
    config: Config
    wrong: tuple[tuple[Config, str], ...] = ()
    remote = True
    """Whether there is a server that can go away."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.port = free_port()
        self.service: BuildingService | None = None
        self.circuit: Circuit | None = None

    async def start(self) -> None: ...

    async def stop(self) -> None: ...

    async def tell(self, amps: PerLine) -> None:
        raise NotImplementedError

    async def garbage(self) -> None:
        raise NotImplementedError


class RestRig(Rig):
    kind = "rest"
    config: Config = {"kind": "rest"}  # noqa: RUF012
    wrong = (({"kind": "rest", "host": "a"}, "meter.input.host"),)
    remote = False

    async def tell(self, amps: PerLine) -> None:
        assert self.service is not None
        assert self.circuit is not None
        await self.service.push(self.circuit, LineReading(datetime.now(UTC), amps))

    async def garbage(self) -> None:
        await self.tell((None, None, None))


class StationRig(Rig):
    kind = "station"
    config: Config = {"kind": "station", "station_id": "gate-1"}  # noqa: RUF012
    wrong = (
        ({"kind": "station"}, "meter.input.station_id"),
        ({"kind": "station", "station_id": "a", "lines": ["L1", "L1", "L2"]}, "meter.input.lines"),
    )
    remote = False

    async def tell(self, amps: PerLine) -> None:
        await self.say("gate-1", 0, amps)

    async def say(self, station_id: str, evse: int, amps: PerLine) -> None:
        assert self.service is not None
        now = datetime.now(UTC)
        await self.service.station_told(
            station_id, MetersReported(evse, (Reading(at=now, current_a=amps),)), now
        )

    async def garbage(self) -> None:
        await self.tell((None, None, None))


class MqttRig(Rig):
    kind = "mqtt"
    topic = "yard/supply"
    wrong = (
        ({"kind": "mqtt", "lines": {"L1": "a"}, "topic": "t"}, "meter.input.host"),
        ({"kind": "mqtt", "host": "h", "lines": {"L1": "a"}}, "meter.input.topic"),
        ({"kind": "mqtt", "host": "h", "topic": "a/#", "lines": {"L1": "a"}}, "meter.input.topic"),
        ({"kind": "mqtt", "host": "h", "topic": "t", "lines": {"L1": "a[x]"}}, "meter.input.lines.L1"),
        ({"kind": "mqtt", "host": "h", "topic": "t", "lines": {"L1": "a"}, "factor": 0},
         "meter.input.factor"),
        ({"kind": "mqtt", "host": "h", "topic": "t", "lines": {"L1": "a"}, "password": "x"},
         "meter.input.password"),
        ({"kind": "mqtt", "host": "h", "topic": "t", "lines": {"L1": "a"}, "password_file": "x"},
         "meter.input.user"),
        ({"kind": "mqtt", "host": "h", "topic": "t", "lines": {"L1": "a"}, "ca_file": "x"},
         "meter.input.ca_file"),
        ({"kind": "mqtt", "host": "h", "topic": "t", "lines": {"L1": {"path": 4}}},
         "meter.input.lines.L1.path"),
    )  # fmt: skip

    def __init__(self, folder: Path, settings: str = "", **more: Any) -> None:
        super().__init__(folder)
        self.settings = settings
        self.login: dict[str, Any] = {}
        self.config = {
            "kind": "mqtt",
            "host": "127.0.0.1",
            "port": self.port,
            "topic": self.topic,
            "lines": {line: f"currents[{i}].milliamps" for i, line in enumerate(LINES)},
            "factor": 0.001,
        } | more
        self._broker: asyncio.subprocess.Process | None = None

    async def start(self) -> None:
        assert MOSQUITTO is not None
        file = self.folder / "mosquitto.conf"
        lines = [f"listener {self.port} 127.0.0.1", f"user {getpass.getuser()}"]
        file.write_text("\n".join([*lines, self.settings or "allow_anonymous true", ""]))
        self._broker = await asyncio.create_subprocess_exec(
            MOSQUITTO,
            "-c",
            str(file),
            stdout=asyncio.subprocess.DEVNULL,
            stderr=asyncio.subprocess.DEVNULL,
        )
        await connected_to(self.port)

    async def stop(self) -> None:
        if self._broker is not None:
            self._broker.terminate()
            await self._broker.wait()
            self._broker = None

    async def publish(self, topic: str, payload: str | bytes, *, retain: bool = False) -> None:
        async with aiomqtt.Client("127.0.0.1", self.port, **self.login) as client:
            await client.publish(topic, payload, qos=1, retain=retain)

    async def tell(self, amps: PerLine) -> None:
        currents = [{} if value is None else {"milliamps": value * 1000} for value in amps]
        await self.publish(self.topic, json.dumps({"currents": currents}))

    async def garbage(self) -> None:
        await self.publish(self.topic, b"\xff{ no json")


class ModbusRig(Rig):
    """Line currents in mA as 32-bit signed numbers, the low word first, on unit 3."""

    kind = "modbus"
    wrong = (
        ({"kind": "modbus", "host": "h"}, "meter.input.lines"),
        ({"kind": "modbus", "host": "h", "lines": {"L1": {}}}, "meter.input.lines.L1.address"),
        ({"kind": "modbus", "host": "h", "lines": {"L1": 7}}, "meter.input.lines.L1"),
        ({"kind": "modbus", "host": "h", "lines": {"L1": {"address": 65_535, "type": "u32"}}},
         "meter.input.lines.L1.address"),
        ({"kind": "modbus", "host": "h", "lines": {"L1": {"address": 1, "type": "u8"}}},
         "meter.input.lines.L1.type"),
        ({"kind": "modbus", "host": "h", "lines": {"L1": {"address": 1, "count": 2}}},
         "meter.input.lines.L1.count"),
        ({"kind": "modbus", "host": "h", "lines": {"L1": {"address": 1}}, "unit_id": 256},
         "meter.input.unit_id"),
        ({"kind": "modbus", "host": "h", "lines": {"L1": {"address": 1}}, "word_order": "mixed"},
         "meter.input.word_order"),
    )  # fmt: skip

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.config = {
            "kind": "modbus",
            "host": "127.0.0.1",
            "port": self.port,
            "unit_id": 3,
            "word_order": "little",
            "lines": {
                line: {"address": 100 + 2 * i, "type": "i32", "scale": 0.001} for i, line in enumerate(LINES)
            },
        }
        self.words = [0] * 6
        self.refusing = False
        self._server: Any = None

    async def _asked(
        self, code: int, start: int, address: int, count: int, registers: list[int], written: Any
    ) -> ExcCodes | None:
        registers[100 - start : 106 - start] = self.words
        return ExcCodes.ILLEGAL_ADDRESS if self.refusing else None

    async def start(self) -> None:
        registers = SimData(90, count=30, values=0, datatype=DataType.REGISTERS)
        device = SimDevice(3, registers, action=self._asked)
        self._server = ModbusTcpServer(device, address=("127.0.0.1", self.port))
        await self._server.serve_forever(background=True)

    async def stop(self) -> None:
        if self._server is not None:
            await self._server.shutdown()
            self._server = None

    async def tell(self, amps: PerLine) -> None:
        self.refusing = False
        for i, value in enumerate(amps):
            number = -0x8000_0000 if value is None else round(value * 1000)
            high, low = struct.unpack(">HH", struct.pack(">i", number))
            self.words[2 * i : 2 * i + 2] = [low, high]

    async def garbage(self) -> None:
        self.refusing = True


class P1Rig(Rig):
    """A relay that sends each telegram to whoever listens, and the last one to a newcomer."""

    kind = "p1"
    wrong = (
        ({"kind": "p1", "host": "h"}, "meter.input.port"),
        ({"kind": "p1", "host": "h", "port": 70_000}, "meter.input.port"),
        ({"kind": "p1", "host": "h", "port": 1, "baud": 9600}, "meter.input.baud"),
    )

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.config = {"kind": "p1", "host": "127.0.0.1", "port": self.port}
        self._writers: list[asyncio.StreamWriter] = []
        self._server: asyncio.Server | None = None
        self._last = b""
        self._clock = 120_000

    async def start(self) -> None:
        self._last = b""
        self._server = await asyncio.start_server(self._come, "127.0.0.1", self.port)

    async def _come(self, _reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._writers.append(writer)
        writer.write(self._last)

    async def stop(self) -> None:
        if self._server is not None:
            self._server.close()
            for writer in self._writers:
                writer.close()
            self._writers.clear()
            self._server = None

    def send(self, telegram: bytes) -> None:
        self._last = telegram
        for writer in self._writers:
            writer.write(telegram)

    def telegram(self, amps: PerLine) -> bytes:
        self._clock += 1
        lines = [
            f"1-0:{code}.7.0({abs(value):.3f}*A)\r\n"
            f"1-0:{code - 10 + (value < 0)}.7.0({abs(value) * 0.2:.3f}*kW)\r\n"
            for code, value in zip((31, 51, 71), amps, strict=True)
            if value is not None
        ]
        body = f"/WEA5\\2MILL\r\n\r\n0-0:1.0.0(261102{self._clock}W)\r\n{''.join(lines)}!".encode()
        return body + f"{crc16(body):04X}\r\n".encode()

    async def tell(self, amps: PerLine) -> None:
        self.send(self.telegram(amps))

    async def garbage(self) -> None:
        self.send(self.telegram((1.0, 1.0, 1.0)).replace(b"(1.000*A)", b"(9.000*A)", 1))


RIGS: tuple[type[Rig], ...] = (RestRig, MqttRig, ModbusRig, P1Rig, StationRig)


async def until(seen: Callable[[], bool]) -> None:
    """Wait for something that tells nobody of itself; TimeoutError after 15 s."""
    async with asyncio.timeout(15):
        while not seen():  # noqa: ASYNC110 - there is nothing to await
            await asyncio.sleep(0.01)
