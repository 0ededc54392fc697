"""A broker's messages: a topic and a place in its JSON for each line.

A message that the broker kept (retained) tells of no known time: it is used only where the message
has a time of its own.
"""

import ssl
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, ClassVar, Self

import orjson

from csms.errors import InvalidInput, MeterFault
from csms.metering.building import Gathered, current, short
from csms.metering.fields import Fields
from csms.metering.json_path import look_up, parse_path
from csms.metering.meter_input import Ear, known

PORT, TLS_PORT = 1883, 8883
CONNECT_S = 10.0
LONGEST_MESSAGE = 65_536


@dataclass(frozen=True, slots=True)
class LinePlace:
    """Where a line's current is told: the topic, and the path in the message."""

    topic: str
    path: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MqttInput:
    """`factor`: from the message's unit to A (0.001 for mA). `time`: path of the message's own time, RFC 3339
    or seconds since 1970. `password_file`, `ca_file`: names of files in the folder `secrets`."""

    kind: ClassVar[str] = "mqtt"

    host: str
    port: int
    lines: Mapping[str, LinePlace]
    factor: float = 1.0
    time: str | None = None
    user: str | None = None
    password_file: str | None = None
    tls: bool = False
    ca_file: str | None = None

    @classmethod
    def parse(cls, fields: Mapping[str, object], path: str) -> Self:
        keys = ("host", "port", "topic", "lines", "factor", "time", "user", "password_file", "tls", "ca_file")
        if "password" in fields:
            problem = (
                "is not kept here; put it into a file of the folder `secrets` and name it as password_file"
            )
            raise InvalidInput(f"{path}.password", problem)
        found = known(fields, path, *keys)
        tls = found.flag("tls", False)
        topic = _topic(found) if "topic" in found else None
        if "time" in found:
            found.checked("time", parse_path)
        made = cls(
            host=found.host(),
            port=found.port(TLS_PORT if tls else PORT),
            lines={line: _place(found, line, value, topic) for line, value in found.lines().items()},
            factor=found.factor("factor"),
            time=found.text("time") if "time" in found else None,
            user=found.text("user") if "user" in found else None,
            password_file=found.secret("password_file"),
            tls=tls,
            ca_file=found.secret("ca_file"),
        )
        if made.password_file is not None and made.user is None:
            raise InvalidInput(found.at("user"), "is missing; a password needs a user")
        if made.ca_file is not None and not tls:
            raise InvalidInput(found.at("ca_file"), "needs tls: true")
        return made

    @property
    def topics(self) -> tuple[str, ...]:
        return tuple(sorted({place.topic for place in self.lines.values()}))

    async def listen(self, ear: Ear) -> None:
        try:
            import aiomqtt  # an extra, and slow to import
        except ImportError:
            raise MeterFault("MQTT is not installed here; install phaseyard[meters]") from None
        password = None if self.password_file is None else ear.secret(self.password_file)
        client = aiomqtt.Client(
            self.host,
            self.port,
            username=self.user,
            password=password,
            tls_context=self._tls(ear),
            timeout=CONNECT_S,
        )
        try:
            async with client:
                for topic in self.topics:
                    await client.subscribe(topic)
                gathered = Gathered({})
                async for message in client.messages:
                    gathered = await self._message(
                        ear, gathered, str(message.topic), message.payload, message.retain
                    )
        except aiomqtt.MqttError as error:
            raise MeterFault(f"broker {self.host}:{self.port}: {short(error)}") from None
        raise MeterFault(f"broker {self.host}:{self.port} ended the subscription")

    async def _message(
        self, ear: Ear, gathered: Gathered, topic: str, payload: object, retained: bool
    ) -> Gathered:
        now = ear.clock.now()
        told, at, problem = self.read(topic, payload, now)
        if retained and self.time is None:
            return gathered
        gathered = gathered.take(told, min(at or now, now))
        reading = gathered.reading(now, ear.longest_silence_s)
        if reading is not None and any(value is not None for value in told.values()):
            await ear.heard(reading)
        if problem:
            ear.trouble(f"{topic}: {problem}")
        return gathered

    def read(
        self, topic: str, payload: object, now: datetime
    ) -> tuple[dict[str, float | None], datetime | None, str]:
        """The lines that a message tells of, when it was measured (None: not usable), and what is wrong."""
        lines = {line: place for line, place in self.lines.items() if place.topic == topic}
        nothing: dict[str, float | None] = dict.fromkeys(lines)
        if not isinstance(payload, bytes | bytearray) or len(payload) > LONGEST_MESSAGE:
            return nothing, now, "the message is no text or too long"
        try:
            document = orjson.loads(payload)
        except orjson.JSONDecodeError as error:
            return nothing, now, f"the message is no JSON: {short(error)}"
        told = {
            line: current(look_up(document, parse_path(place.path)), self.factor)
            for line, place in lines.items()
        }
        absent = [line for line, value in told.items() if value is None]
        problem = f"the message has no current of {', '.join(absent)}" if absent else ""
        if self.time is None:
            return told, now, problem
        at = _instant(look_up(document, parse_path(self.time)))
        return (told, at, problem) if at is not None else (nothing, None, f"no time at {self.time}")

    def _tls(self, ear: Ear) -> ssl.SSLContext | None:
        if not self.tls:
            return None
        path = None if self.ca_file is None else ear.secret_path(self.ca_file)
        try:
            return ssl.create_default_context(cafile=path)
        except (OSError, ssl.SSLError) as error:
            raise MeterFault(f"{self.ca_file} is no certificate: {short(error)}") from None


def _topic(found: Fields) -> str:
    topic = found.text("topic")
    if "#" in topic or "+" in topic:
        raise InvalidInput(found.at("topic"), "must be one topic, without # and +")
    return topic


def _place(found: Fields, line: str, value: object, topic: str | None) -> LinePlace:
    """A text is the path in the common topic's message; a mapping may name another topic."""
    at = f"{found.at('lines')}.{line}"
    given: object = {"path": value} if isinstance(value, str) else value
    each = Fields(given, at, ("topic", "path"))
    own = _topic(each) if "topic" in each else topic
    if own is None:
        raise InvalidInput(found.at("topic"), "is missing; give the topic of the messages")
    path = each.text("path", "$")
    try:
        parse_path(path)
    except ValueError as error:
        raise InvalidInput(at if isinstance(value, str) else each.at("path"), str(error)) from None
    return LinePlace(own, path)


def _instant(value: Any) -> datetime | None:
    try:
        if isinstance(value, bool):
            return None
        if isinstance(value, int | float):
            return datetime.fromtimestamp(value, UTC)
        found = datetime.fromisoformat(value)
    except (ValueError, TypeError, OverflowError, OSError):
        return None
    return found.astimezone(UTC) if found.tzinfo is not None else None
