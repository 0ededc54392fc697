"""Stations that have gone wrong, played against a node without its web; and what they say honestly."""

import asyncio
import json
import math
import time
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

from csms.app import Central
from csms.clock import ManualClock
from csms.errors import StationError
from csms.gateway.link import CLOSE_DEAF, CLOSE_POLICY, Link, LinkSettings
from csms.ocpp.adapter import adapter_for
from csms.ocpp.version import Version
from csms.sessions.session import Session, SessionFilter, State
from csms.settings import load_settings
from csms.stations.commands import Command, Trigger, TriggerKind, Unlock
from csms.stations.model import Registration
from tools.fuzz import damage
from tools.fuzz.socket import Wire
from tools.fuzz.vectors import Recorded, recorded

BEGIN = datetime(2026, 11, 12, 18, 30, tzinfo=UTC)
HONEST_EVSE = 7
"""The recorded messages tell of lower ones."""
BEGIN_WH = 100_000_000
ANSWERS_S = 600.0
"""How long the answer to an honest message may take by the machine's clock."""
RULES = (CLOSE_POLICY, CLOSE_DEAF)
"""Codes by which a link may be closed: too much garbage, no command answered."""
COMMANDS: tuple[Command, ...] = (Unlock(1, 1), Trigger(TriggerKind.STATUS), Trigger(TriggerKind.HEARTBEAT))


@dataclass(slots=True)
class Result:
    """What came of a run. `faults` must be empty."""

    frames: int = 0
    honest: int = 0
    transactions: int = 0
    reconnects: Counter[str] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)


class Mad:
    """One station of one version; `honest` maps its honest transactions to their energy in Wh."""

    def __init__(self, central: Central, clock: ManualClock, name: str, version: Version, seed: int) -> None:
        self.central, self.clock, self.name, self.version = central, clock, name, version
        self.random = Random(f"{seed} {name}")
        self.recorded: Recorded = recorded(version)
        self.honest: dict[str, int] = {}
        self.wire = Wire()
        self.link: Link | None = None
        self.result = Result()
        self._pump: asyncio.Task[None] | None = None
        self._asking: asyncio.Task[None] | None = None
        self._number = 0
        self._asked: list[str] = []
        self.until_s = math.inf

    # ---- the socket --------------------------------------------------------------------

    async def connect(self) -> None:
        ports = self.central.gateway.ports
        epoch = await ports.stations.connected(self.name, self.version.value, self.clock.now())
        self.wire = Wire()
        settings = LinkSettings(settle_s=1e9, messages_per_s=1e9)
        adapter = adapter_for(self.version)
        self.link = Link(
            self.name, epoch, Registration.ACCEPTED, adapter, self.wire, ports, settings, self.name
        )
        self.central.gateway.registry.add(self.link)
        self._pump = asyncio.ensure_future(self._serve(self.link))

    async def _serve(self, link: Link) -> None:
        try:
            await link.pump()
        finally:
            self.wire.news.set()
            self.central.gateway.registry.remove(link)
            await link.drain()

    async def hang_up(self) -> None:
        self.wire.hang_up()
        if self._pump is not None:
            await self._pump
        if self._asking is not None:
            await self._asking

    async def _again(self) -> None:
        """The link is gone: by a rule, or that is a fault. The station comes back."""
        assert self._pump is not None
        closed = self.wire.closed
        try:
            await self._pump
        except Exception as error:
            self.result.faults.append(f"{self.name}: the link died of {error!r}")
        if closed is None or closed.code not in RULES:
            self.result.faults.append(f"{self.name}: the link ended without a rule: {closed}")
        else:
            self.result.reconnects[closed.reason] += 1
        await self.connect()

    # ---- what it says ------------------------------------------------------------------

    async def spoilt(self) -> None:
        """One message that is spoilt, or an answer to what it was asked."""
        self.result.frames += 1
        self._take_calls()
        if self.random.random() < 0.15 and self.recorded.answers:
            self._maybe_ask()
            call_id = self._asked.pop(0) if self._asked else f"none-{self.random.randrange(9)}"
            parts: list[Any] = [3, call_id, self.random.choice(self.recorded.answers)]
        else:
            action, payload = self.random.choice(self.recorded.calls)
            # Ids come twice now and then, with another message behind them.
            self._number += self.random.random() > 0.05
            parts = [2, f"mad-{self._number}", action, payload]
        self.wire.say(damage.frame(parts, self.random))

    def _take_calls(self) -> None:
        """Remember what it was asked; what else was sent to it is not needed any more."""
        while self.wire.sent:
            text = self.wire.sent.popleft()
            if text.startswith("[2,"):
                self._asked.append(json.loads(text)[1])

    def _maybe_ask(self) -> None:
        if self._asking is None or self._asking.done():
            self._asking = asyncio.ensure_future(self._ask(self.random.choice(COMMANDS)))

    async def _ask(self, command: Command) -> None:
        assert self.link is not None
        try:
            await self.link.ask(command, routine=self.random.random() < 0.5)
        except StationError:
            return

    async def say_honestly(self, action: str, payload: Mapping[str, Any]) -> dict[str, Any]:
        """An honest call; said again on a new socket while the old one is gone. The payload of its result."""
        while True:
            if self._pump is None or self._pump.done() or self.wire.closed is not None:
                await self._again()
            self.result.honest += 1
            message_id = f"honest-{self.result.honest}"
            self.wire.say(json.dumps([2, message_id, action, payload]))
            answer = await self._answer(message_id)
            if answer is None:
                continue
            if answer[0] != 3:
                self.result.faults.append(f"{self.name}: an honest {action} was refused: {answer}")
                return {}
            told: dict[str, Any] = answer[2]
            return told

    async def _answer(self, message_id: str) -> list[Any] | None:
        """None when the link went instead."""
        beginnings = tuple(f'[{number},"{message_id}",' for number in (3, 4))
        assert self._pump is not None
        async with asyncio.timeout(ANSWERS_S):
            while True:
                self.wire.news.clear()
                for text in tuple(self.wire.sent):
                    if text.startswith(beginnings):
                        found: list[Any] = json.loads(text)
                        return found
                if self._pump.done() or self.wire.closed is not None:
                    return None
                await self.wire.news.wait()

    def steps(self, number: int) -> Iterator[tuple[str, dict[str, Any]]]:
        """An honest transaction of 2.x: its messages in order."""
        transaction_id = f"{self.name}/honest/{number}"
        energy_wh = 100 + self.random.randrange(800)
        self.honest[transaction_id] = energy_wh
        kinds = (
            ("Started", 0, "Transaction.Begin"),
            ("Updated", 0.5, "Sample.Periodic"),
            ("Ended", 1, "Transaction.End"),
        )
        for place, (kind, share, context) in enumerate(kinds):
            at = stamp(self.clock.now())
            register = BEGIN_WH + number * 10_000 + int(energy_wh * share)
            yield (
                "TransactionEvent",
                {
                    "eventType": kind,
                    "timestamp": at,
                    "triggerReason": "MeterValuePeriodic",
                    "seqNo": place,
                    "transactionInfo": {"transactionId": transaction_id},
                    "evse": {"id": HONEST_EVSE, "connectorId": 1},
                    "meterValue": [
                        {"timestamp": at, "sampledValue": [{"value": register, "context": context}]}
                    ],
                },
            )

    async def honest_16(self, number: int) -> None:
        """An honest transaction of 1.6, at one go: a spoilt stop could rightly be taken for its end."""
        energy_wh = 100 + self.random.randrange(800)
        begin_wh = BEGIN_WH + number * 10_000
        at = stamp(self.clock.now() - timedelta(minutes=30))
        start = {"connectorId": HONEST_EVSE, "idTag": f"H{number}", "meterStart": begin_wh, "timestamp": at}
        told = await self.say_honestly("StartTransaction", start)
        if "transactionId" not in told:
            return
        self.honest[str(told["transactionId"])] = energy_wh
        stop = {"transactionId": told["transactionId"], "meterStop": begin_wh + energy_wh}
        await self.say_honestly("StopTransaction", stop | {"timestamp": stamp(self.clock.now())})

    async def run(self, frames: int, between: int = 50) -> None:
        """`frames` spoilt messages, an honest one after every `between`."""
        await self.connect()
        number, steps = 0, iter(self.steps(0)) if self.version is not Version.OCPP16 else None
        while self.result.frames < frames and time.monotonic() < self.until_s:
            for _ in range(between):
                await self.spoilt()
            if steps is None:
                await self.honest_16(number)
                number += 1
            elif (step := next(steps, None)) is not None:
                await self.say_honestly(*step)
            else:
                number += 1
                steps = iter(self.steps(number))
            told = await self.say_honestly("Heartbeat", {})
            if not told.get("currentTime"):
                self.result.faults.append(f"{self.name}: a heartbeat told no time")
            self.clock.advance(3)
        for step in steps or ():
            await self.say_honestly(*step)
        await self.hang_up()


def stamp(at: datetime) -> str:
    return at.isoformat().replace("+00:00", "Z")


async def fuzz(
    folder: Path, frames: int, seed: int, stations: int = 12, *, longest_s: float = math.inf
) -> Result:
    """`frames` spoilt messages by `stations` stations of all versions on a database in `folder`.

    After `longest_s` by the machine's clock it says no more, and judges what was said.
    """
    clock = ManualClock(BEGIN)
    central = Central(load_settings(data_dir=folder, host="127.0.0.1", ocpp_port=0, http_port=0), clock)
    await central.database.open()
    try:
        versions = (Version.OCPP16, Version.OCPP201, Version.OCPP21)
        mad = []
        for number in range(stations):
            name = f"mad-{number:02}"
            await central.stations.create(id=name)
            mad.append(Mad(central, clock, name, versions[number % len(versions)], seed))
        for each in mad:
            each.until_s = time.monotonic() + longest_s
        await asyncio.gather(*(each.run(-(-frames // stations)) for each in mad))
        result = Result()
        for each in mad:
            result.frames += each.result.frames
            result.honest += each.result.honest
            result.reconnects += each.result.reconnects
            result.faults += each.result.faults
            result.transactions += len(each.honest)
            result.faults += await wrong_sessions(central, each)
        return result
    finally:
        await central.tasks.close()
        await central.database.close()


async def wrong_sessions(central: Central, station: Mad) -> list[str]:
    """What is wrong with how its honest transactions were recorded."""
    found: dict[str, list[Session]] = {}
    after: str | None = None
    while True:
        page = await central.sessions.list(SessionFilter(station_id=station.name), after=after, limit=500)
        for session in page.items:
            found.setdefault(session.transaction_id or "", []).append(session)
        after = page.next
        if after is None:
            break
    wrong = []
    for transaction_id, energy_wh in station.honest.items():
        sessions = found.get(transaction_id, [])
        told = [(each.state, each.energy_wh) for each in sessions]
        if told != [(State.ENDED, energy_wh)]:
            wrong.append(f"{station.name}: {transaction_id} of {energy_wh} Wh is {told}, {sessions}")
    return wrong
