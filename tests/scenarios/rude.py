"""A station made of a bare socket that may say anything, and the yard in which such stations are set up.

Every CALLRESULT and CALL that it is sent is judged by `jsonschema` with the official schemas, which is
another validator than the one in use.
"""

import asyncio
import base64
import json
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime, timedelta
from itertools import count
from typing import Any, TypeVar

import jsonschema  # type: ignore[import-untyped]
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed
from websockets.typing import Subprotocol

from api.node import Node
from csms.clock import ManualClock
from csms.ocpp.schemas import Part, schema
from csms.ocpp.version import Version
from tests.scenarios.rest import Json, Rest, until
from tests.scenarios.site import SITE, make_station, password

T = TypeVar("T")
VERSIONS = {"1.6": Version.OCPP16, "2.0.1": Version.OCPP201, "2.1": Version.OCPP21}
NOT_KNOWN: Json = {}
"""Stands for the answer NotImplemented."""
ACCEPTED: Json = {"status": "Accepted"}
BEGIN_WH = 700_000


def stamp(at: datetime) -> str:
    return at.isoformat().replace("+00:00", "Z")


class Rude:
    """One station. `answers`: what it says to our calls, by action; None: nothing; others: NotImplemented."""

    def __init__(self, yard: "Yard", station_id: str, card: str, version: str = "1.6") -> None:
        self.yard, self.station_id, self.card = yard, station_id, card
        self.version = VERSIONS[version]
        self.answers: dict[str, Json | Callable[[Json], Json] | None] = {"SetChargingProfile": ACCEPTED}
        self.deaf = False
        self.frames: list[list[Any]] = []
        self.asked: list[tuple[str, str, Json]] = []
        self.socket: ClientConnection | None = None
        self._asked_for: dict[str, str] = {}
        self._news = asyncio.Condition()
        self._reader: asyncio.Task[None] | None = None
        self._numbers = count(1)

    @property
    def now(self) -> datetime:
        return self.yard.clock.now()

    async def dial(
        self,
        *,
        path: str | None = None,
        offers: tuple[str, ...] | None = None,
        secret: bytes | None = None,
        **options: Any,
    ) -> None:
        """Raises websockets' InvalidStatus when the door stays shut."""
        secret = password(self.station_id).encode() if secret is None else secret
        pair = base64.b64encode(self.station_id.encode() + b":" + secret).decode()
        names = (self.version.subprotocol,) if offers is None else offers
        self.socket = await connect(
            f"ws://127.0.0.1:{self.yard.node.central.ocpp_port}{path or f'/ocpp/{self.station_id}'}",
            subprotocols=[Subprotocol(name) for name in names] or None,
            additional_headers={"Authorization": f"Basic {pair}"},
            proxy=None,
            open_timeout=60,
            **options,
        )
        self._reader = asyncio.ensure_future(self._read(self.socket))

    async def hang_up(self) -> None:
        if self.socket is not None:
            await self.socket.close()
        if self._reader is not None:
            await self._reader

    async def say(self, message: str | bytes) -> None:
        assert self.socket is not None
        await self.socket.send(message)

    async def post(self, action: str, payload: object, message_id: str | None = None) -> str:
        """Send a call and do not wait; its id."""
        message_id = message_id or f"{self.station_id}-{next(self._numbers)}"
        self._asked_for[message_id] = action
        await self.say(json.dumps([2, message_id, action, payload]))
        return message_id

    async def call(self, action: str, payload: object, message_id: str | None = None) -> Any:
        """The payload of the answer; of an error the whole frame."""
        before = len(self.frames)
        frame = await self.answer(await self.post(action, payload, message_id), before)
        return frame[2] if frame[0] == 3 else frame

    async def answer(self, message_id: str, since: int = 0) -> list[Any]:
        return await self.heard(
            lambda: next((f for f in self.frames[since:] if f[0] in (3, 4) and f[1] == message_id), None),
            f"an answer to {message_id}",
        )

    async def told(self, action: str, nth: int = 1) -> tuple[str, Json]:
        """The nth call of `action` that it gets, or has got: id and payload."""

        def found() -> tuple[str, Json] | None:
            calls = [(i, payload) for i, name, payload in self.asked if name == action]
            return calls[nth - 1] if len(calls) >= nth else None

        return await self.heard(found, f"{action} number {nth}")

    async def heard(self, found: Callable[[], T | None], what: str) -> T:
        """Wait for `found` to give something."""
        try:
            async with asyncio.timeout(60), self._news:
                await self._news.wait_for(lambda: found() is not None)
        except TimeoutError:
            raise AssertionError(f"{self.station_id} has not heard {what}, but {self.frames}") from None
        answer = found()
        assert answer is not None
        return answer

    async def ended(self) -> tuple[int | None, str | None]:
        assert self.socket is not None
        async with asyncio.timeout(60):
            await self.socket.wait_closed()
        return self.socket.close_code, self.socket.close_reason

    async def _read(self, socket: ClientConnection) -> None:
        with suppress(ConnectionClosed):
            async for text in socket:
                await self._take(json.loads(text))

    async def _take(self, frame: list[Any]) -> None:
        if frame[0] == 3 and frame[1] in self._asked_for:
            self._judge(self._asked_for[frame[1]], Part.RESPONSE, frame[2])
        if frame[0] == 2:
            self._judge(frame[2], Part.REQUEST, frame[3])
        async with self._news:
            self.frames.append(frame)
            if frame[0] == 2:
                self.asked.append((frame[1], frame[2], frame[3]))
            self._news.notify_all()
        if frame[0] == 2 and not self.deaf:
            answer = self.answers.get(frame[2], NOT_KNOWN)
            if callable(answer):
                answer = answer(frame[3])
            if answer is NOT_KNOWN:
                await self.say(json.dumps([4, frame[1], "NotImplemented", "", {}]))
            elif answer is not None:
                await self.say(json.dumps([3, frame[1], answer]))

    def _judge(self, action: str, part: Part, payload: object) -> None:
        official = schema(self.version, action, part)
        jsonschema.validators.validator_for(official)(official).validate(payload)

    # ---- what honest stations say, 1.6 -------------------------------------------------

    async def boot(self, **more: Any) -> Json:
        told: Json = await self.call(
            "BootNotification", {"chargePointVendor": "Weir", "chargePointModel": "Sluice 22", **more}
        )
        return told

    async def start(self, at: datetime, register_wh: int = BEGIN_WH, **more: Any) -> int:
        """The transaction's id."""
        told = await self.call("StartTransaction", self.start_of(at, register_wh, **more))
        assert told["idTagInfo"]["status"] == "Accepted", told
        return int(told["transactionId"])

    def start_of(self, at: datetime, register_wh: int = BEGIN_WH, **more: Any) -> Json:
        start = {"connectorId": 1, "idTag": self.card, "meterStart": register_wh, "timestamp": stamp(at)}
        return start | more

    async def meter(self, transaction_id: int | None, at: datetime, register_wh: int, **more: Any) -> Any:
        """One value of the register."""
        return await self.samples(transaction_id, at, [{"value": str(register_wh)}], **more)

    async def samples(
        self, transaction_id: int | None, at: datetime | str, sampled: list[Json], **more: Any
    ) -> Any:
        at = at if isinstance(at, str) else stamp(at)
        body: Json = {"connectorId": 1, "meterValue": [{"timestamp": at, "sampledValue": sampled}]}
        if transaction_id is not None:
            body["transactionId"] = transaction_id
        return await self.call("MeterValues", body | more)

    async def stop(self, transaction_id: int, at: datetime, register_wh: int, **more: Any) -> Any:
        body = {"transactionId": transaction_id, "meterStop": register_wh, "timestamp": stamp(at)}
        return await self.call("StopTransaction", body | more)

    # ---- and 2.x -----------------------------------------------------------------------

    async def event(
        self, kind: str, transaction_id: str, number: int, at: datetime, register_wh: int, **more: Any
    ) -> Any:
        """TransactionEvent with one value of the register."""
        context = {"Started": "Transaction.Begin", "Ended": "Transaction.End"}.get(kind, "Sample.Periodic")
        sampled = [{"value": register_wh, "context": context}]
        trigger = {"Started": "CablePluggedIn", "Ended": "EVDeparted"}.get(kind, "MeterValuePeriodic")
        return await self.call(
            "TransactionEvent",
            {
                "eventType": kind,
                "timestamp": stamp(at),
                "triggerReason": trigger,
                "seqNo": number,
                "transactionInfo": {"transactionId": transaction_id},
                "evse": {"id": 1, "connectorId": 1},
                "meterValue": [{"timestamp": stamp(at), "sampledValue": sampled}],
                **more,
            },
        )

    # ---- what became of it -------------------------------------------------------------

    async def session(self) -> Json:
        """Its one session."""
        (session,) = await self.yard.rest.sessions(self.station_id)
        return session

    async def facts(self, topic: str) -> list[Json]:
        """Bodies of the facts about this station."""
        return await self.yard.facts(topic, self.station_id)

    async def kept(self) -> list[Json]:
        """What is in its quarantine, the latest first."""
        return await self.yard.rest.every(f"/stations/{self.station_id}/quarantine")


class Yard:
    """A running node, its manager, and its clock, which stands still until it is moved."""

    def __init__(self, node: Node, rest: Rest, clock: ManualClock) -> None:
        self.node, self.rest, self.clock = node, rest, clock
        self.stations: list[Rude] = []
        self._numbers = count(1)

    async def newcomer(self, version: str = "1.6", *, dial: bool = True, **facts: Any) -> Rude:
        """A further station of the site, with its key and a card that may charge."""
        number = next(self._numbers)
        station_id, card = f"rude-{number}", f"04DE{number:06X}"
        await make_station(self.rest, station_id, **facts)
        await self.rest.post("/tokens", {"text": card, "member_id": "rude"})
        made = Rude(self, station_id, card, version)
        self.stations.append(made)
        if dial:
            await made.dial()
        return made

    def ago(self, minutes: float) -> datetime:
        return self.clock.now() - timedelta(minutes=minutes)

    async def pass_s(self, seconds: float) -> None:
        """Let time pass in small steps, so that what is due then can happen then."""
        while seconds > 0:
            step = min(seconds, 1.0)
            self.clock.advance(step)
            seconds -= step
            await asyncio.sleep(0)

    async def facts(self, topic: str, subject: str | None = None) -> list[Json]:
        found = await self.rest.every(f"/events?site={SITE}&topic={topic}")
        return [fact["body"] for fact in found if subject is None or fact["subject"] == subject]

    async def fact(self, topic: str, subject: str) -> Json:
        """The latest such fact, once it is told."""

        async def look() -> Json | None:
            found = await self.facts(topic, subject)
            return found[0] if found else None

        return await until(look, f"{topic} of {subject}", timeout_s=60)

    async def close(self) -> None:
        for station in self.stations:
            await station.hang_up()
