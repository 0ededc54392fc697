"""Processor time per MeterValues of 12 values: ours down to the disk, beside the bare `ocpp` package.

Ours: link, engine, validation, translation, session, group commit into SQLite with a sync to
disk (`synchronous=FULL`), answer. The package: the same text through `route_message` of its
ChargePoint with a handler that returns at once, no database, no socket; as it comes, and with
its thread pool for validation switched off.
"""

import asyncio
import statistics
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import ocpp.messages
import orjson
from ocpp.routing import on
from ocpp.v16 import ChargePoint, call_result

from api.cli.serve import settle
from csms.app import Central
from csms.gateway.link import Link, LinkSettings
from csms.ocpp.adapter import adapter_for
from csms.ocpp.version import Version
from csms.settings import load_settings
from csms.sites.model import System
from csms.stations.model import Registration
from tools.bench.measure import cpu_us, spread

STATIONS = 200
PER_STATION = 10
ROUNDS = 5
BASELINE_MESSAGES = 400
START = datetime(2026, 11, 2, 17, tzinfo=UTC)


def sampled(value: float, measurand: str, unit: str, phase: str | None = None) -> dict[str, str]:
    sample = {"value": f"{value:.1f}", "measurand": measurand, "unit": unit, "context": "Sample.Periodic"}
    return {**sample, "location": "Outlet", **({"phase": phase} if phase else {})}


def meter_values(number: int, transaction_id: int) -> str:
    """A MeterValues with 12 values; energy grows by 100 Wh a minute."""
    values = [sampled(16.0 + n, "Current.Import", "A", f"L{n + 1}") for n in range(3)]
    values += [sampled(230.0 + n, "Voltage", "V", f"L{n + 1}-N") for n in range(3)]
    values += [sampled(3680.0 + n, "Power.Active.Import", "W", f"L{n + 1}") for n in range(3)]
    values += [
        sampled(11040.0, "Power.Active.Import", "W"),
        sampled(1_000_000.0 + 100 * number, "Energy.Active.Import.Register", "Wh"),
        sampled(16.0, "Current.Offered", "A"),
    ]
    at = (START + timedelta(minutes=number)).isoformat().replace("+00:00", "Z")
    body = {
        "connectorId": 1,
        "transactionId": transaction_id,
        "meterValue": [{"timestamp": at, "sampledValue": values}],
    }
    return orjson.dumps([2, f"m{number}", "MeterValues", body]).decode()


class Memory:
    """A socket in memory: what goes in is put, what comes out is awaited."""

    def __init__(self) -> None:
        self.inbox: asyncio.Queue[str] = asyncio.Queue()
        self.outbox: asyncio.Queue[str] = asyncio.Queue()

    async def recv(self) -> str:
        return await self.inbox.get()

    async def send(self, message: str) -> None:
        self.outbox.put_nowait(message)

    async def close(self, code: int = 1000, reason: str = "") -> None:
        return None

    async def say(self, text: str) -> str:
        """Send as the station and wait for the answer; our own calls are left unanswered."""
        self.inbox.put_nowait(text)
        while not (answer := await self.outbox.get()).startswith("[3"):
            pass
        return answer


class Ours:
    """Stations with a running session each, on links whose sockets are in memory."""

    def __init__(self, folder: Path) -> None:
        settings = load_settings(data_dir=folder, host="127.0.0.1", ocpp_port=0)
        self.central = Central(settings)
        self.sockets: list[Memory] = []
        self.transactions: list[int] = []
        self._pumps: list[asyncio.Task[None]] = []
        self._texts: list[list[str]] = []
        self._number = 0

    async def open(self) -> None:
        central = self.central
        await central.start()
        site = await central.sites.create_site(
            name="Weavers' Yard", time_zone="Europe/Amsterdam", currency="EUR", system=System.TN_400
        )
        for number in range(STATIONS):
            station_id = f"BAY-{number:03d}"
            await central.stations.create(id=station_id, site_id=site.id)
            socket = Memory()
            link = Link(
                station_id,
                1,
                Registration.ACCEPTED,
                adapter_for(Version.OCPP16),
                socket,
                central.gateway.ports,
                LinkSettings(settle_s=3600),
            )
            self._pumps.append(asyncio.ensure_future(link.pump()))
            self.sockets.append(socket)
            start = {
                "connectorId": 1,
                "idTag": "04A1B2C3",
                "meterStart": 1_000_000,
                "timestamp": START.isoformat(),
            }
            answer = await socket.say(orjson.dumps([2, "start", "StartTransaction", start]).decode())
            self.transactions.append(orjson.loads(answer)[2]["transactionId"])

    async def round(self) -> int:
        """Every station sends its messages one after the other, all stations at once."""

        async def station(socket: Memory, texts: list[str]) -> None:
            for text in texts:
                await socket.say(text)

        await asyncio.gather(*map(station, self.sockets, self._texts))
        return STATIONS * PER_STATION

    def prepare(self) -> None:
        """Write the messages of the next round, which is not what is measured."""
        numbers = range(self._number + 1, self._number + PER_STATION + 1)
        self._number += PER_STATION
        self._texts = [[meter_values(number, id) for number in numbers] for id in self.transactions]

    async def check(self) -> None:
        """What was measured must have been done: every session has the energy of its last message."""
        for session in await self.central.sessions.open_sessions():
            assert session.energy_wh == 100 * self._number, session
        assert len(self.transactions) == STATIONS

    async def close(self) -> None:
        for pump in self._pumps:
            pump.cancel()
        await asyncio.gather(*self._pumps, return_exceptions=True)
        await self.central.stop()


class Nothing:
    """The connection of the bare package: what it sends goes nowhere."""

    async def send(self, message: str) -> None:
        return None


class Bare(ChargePoint):  # type: ignore[misc]
    """The package with a handler that returns at once."""

    @on("MeterValues")  # type: ignore[untyped-decorator]
    def on_meter_values(self, **_: object) -> call_result.MeterValues:
        return call_result.MeterValues()


BARE_TEXTS = [meter_values(number, 1) for number in range(BASELINE_MESSAGES)]


async def baseline() -> int:
    """One round of the bare package."""
    bare = Bare("BAY-000", Nothing())
    for text in BARE_TEXTS:
        await bare.route_message(text)
    return BASELINE_MESSAGES


async def main() -> None:
    """Print both, and the ratio."""
    default = await cpu_us(baseline, ROUNDS)
    ocpp.messages.ASYNC_VALIDATION = False
    inline = await cpu_us(baseline, ROUNDS)
    with tempfile.TemporaryDirectory() as folder:
        ours = Ours(Path(folder))
        await ours.open()
        try:
            settle()
            figures = await cpu_us(ours.round, ROUNDS, prepare=ours.prepare)
            await ours.check()
            writer = ours.central.database.writer
            group = writer.pieces / max(1, writer.commits)
        finally:
            await ours.close()
    best = min(statistics.median(default), statistics.median(inline))
    print("MeterValues, 12 values: processor time in us per message, median (lowest to highest)")
    print(f"  ocpp package, as it comes, no database        {spread(default)}")
    print(f"  ocpp package, validation inline, no database  {spread(inline)}")
    print(
        f"  Phaseyard, engine to committed row in SQLite  {spread(figures)}   {group:.0f} messages a commit"
    )
    print(f"  times faster than the better of the package   {best / statistics.median(figures):8.1f}")
