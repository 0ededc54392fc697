"""A P1 port over TCP: a relay sends every telegram of the meter, once a second or every ten."""

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar, Self

from csms.errors import MeterFault
from csms.metering.building import LineReading, short
from csms.metering.meter_input import Ear, known
from csms.metering.telegram import Telegrams, parse_telegram

AT_ONCE = 4096
CONNECT_S = 10.0


@dataclass(frozen=True, slots=True)
class P1Input:
    """Where the relay is."""

    kind: ClassVar[str] = "p1"

    host: str
    port: int

    @classmethod
    def parse(cls, fields: Mapping[str, object], path: str) -> Self:
        found = known(fields, path, "host", "port")
        return cls(found.host(), found.port(None))

    async def listen(self, ear: Ear) -> None:
        try:
            async with asyncio.timeout(CONNECT_S):
                reader, writer = await asyncio.open_connection(self.host, self.port)
        except (OSError, TimeoutError) as error:
            raise MeterFault(f"no connection to {self.host}:{self.port}: {short(error)}") from None
        try:
            await self._read(reader, ear)
        except OSError as error:
            raise MeterFault(f"{self.host}:{self.port} broke off: {short(error)}") from None
        finally:
            writer.close()

    async def _read(self, reader: asyncio.StreamReader, ear: Ear) -> None:
        telegrams = Telegrams()
        before: str | None = None
        while True:
            try:
                async with asyncio.timeout(ear.longest_silence_s):
                    data = await reader.read(AT_ONCE)
            except TimeoutError:
                raise MeterFault(f"nothing came for {ear.longest_silence_s:g} s") from None
            if not data:
                raise MeterFault(f"{self.host}:{self.port} closed the connection")
            for raw in telegrams.feed(data):
                try:
                    telegram = parse_telegram(raw)
                except ValueError as error:
                    ear.trouble(str(error))
                    continue
                if telegram.clock is not None and telegram.clock == before:
                    # A relay that repeats its last telegram when the meter is gone.
                    ear.trouble(f"the telegram of {telegram.clock} came again: the meter's clock stands")
                    continue
                before = telegram.clock
                await ear.heard(LineReading(ear.clock.now(), telegram.current_a))
