"""A meter's registers by Modbus TCP, asked once every period.

The map says for each line where its current is and how it is spelled; 32-bit values have two
registers, whose order makers do not agree on. What a register says when it has no value
(the lowest signed, the highest unsigned number, NaN: as SunSpec has it, from memory) is a missing line.
"""

import math
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, ClassVar, Self

from csms.errors import InvalidInput, MeterFault
from csms.metering.building import LineReading, current, per_line, short
from csms.metering.fields import Fields
from csms.metering.meter_input import Ear, known

PORT = 502
ANSWER_S = 3.0
SIZES = {"u16": 1, "i16": 1, "u32": 2, "i32": 2, "float32": 2}
"""Registers of 16 bits that a value of each type takes."""
NO_VALUE = {"u16": 0xFFFF, "i16": -0x8000, "u32": 0xFFFF_FFFF, "i32": -0x8000_0000}


@dataclass(frozen=True, slots=True)
class LineRegister:
    """`address` counts from 0, as it is sent; current in A = value x `scale`."""

    address: int
    type: str = "u16"
    scale: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ModbusInput:
    """`table`: holding registers (function 3) or input registers (4). `word_order`: which half is first."""

    kind: ClassVar[str] = "modbus"

    host: str
    port: int
    lines: Mapping[str, LineRegister]
    unit_id: int = 1
    table: str = "holding"
    word_order: str = "big"

    @classmethod
    def parse(cls, fields: Mapping[str, object], path: str) -> Self:
        found = known(fields, path, "host", "port", "unit_id", "table", "word_order", "lines")
        return cls(
            host=found.host(),
            port=found.port(PORT),
            lines={line: _register(f"{found.at('lines')}.{line}", v) for line, v in found.lines().items()},
            unit_id=found.whole("unit_id", 1, lowest=0, highest=255),
            table=found.choice("table", ("holding", "input"), "holding"),
            word_order=found.choice("word_order", ("big", "little"), "big"),
        )

    async def listen(self, ear: Ear) -> None:
        try:
            from pymodbus import ModbusException  # an extra, and slow to import
            from pymodbus.client import AsyncModbusTcpClient
        except ImportError:
            raise MeterFault("Modbus is not installed here; install phaseyard[meters]") from None
        where = f"{self.host}:{self.port}"
        # It connects once: trying again is ours (`BuildingService`).
        client = AsyncModbusTcpClient(
            self.host, port=self.port, timeout=ANSWER_S, retries=1, reconnect_delay=0
        )
        try:
            if not await client.connect():
                raise MeterFault(f"no connection to {where}")
            while True:
                started = ear.clock.monotonic()
                await self._ask(client, ear)
                await ear.clock.sleep(ear.period_s - (ear.clock.monotonic() - started))
        except (ModbusException, OSError, TimeoutError) as error:
            raise MeterFault(f"{where} does not answer: {short(error)}") from None
        finally:
            with suppress(Exception):
                client.close()

    async def _ask(self, client: Any, ear: Ear) -> None:
        read = client.read_holding_registers if self.table == "holding" else client.read_input_registers
        values: dict[str, float | None] = {}
        problems = []
        # The oldest of the parts is the reading's time.
        at = ear.clock.now()
        for line, register in self.lines.items():
            count = SIZES[register.type]
            answer = await read(register.address, count=count, device_id=self.unit_id)
            if answer.isError():
                problems.append(f"{line}: the meter refuses register {register.address}: {short(answer)}")
            elif len(answer.registers) != count:
                problems.append(f"{line}: {len(answer.registers)} registers came instead of {count}")
            elif (value := self.value(register, answer.registers)) is None:
                problems.append(f"{line}: register {register.address} has no value")
            else:
                values[line] = value
        if values:
            await ear.heard(LineReading(at, per_line(values)))
        if problems:
            ear.trouble("; ".join(problems))

    def value(self, register: LineRegister, words: list[int]) -> float | None:
        """A current out of the words that came; None when they stand for no value."""
        from pymodbus.client.mixin import ModbusClientMixin

        types = {
            "u16": ModbusClientMixin.DATATYPE.UINT16,
            "i16": ModbusClientMixin.DATATYPE.INT16,
            "u32": ModbusClientMixin.DATATYPE.UINT32,
            "i32": ModbusClientMixin.DATATYPE.INT32,
            "float32": ModbusClientMixin.DATATYPE.FLOAT32,
        }
        found = ModbusClientMixin.convert_from_registers(
            words,
            types[register.type],
            word_order=self.word_order,  # type: ignore[arg-type]
        )
        if not isinstance(found, int | float) or found == NO_VALUE.get(register.type) or math.isnan(found):
            return None
        return current(found, register.scale)


def _register(path: str, given: object) -> LineRegister:
    fields = Fields(given, path, ("address", "type", "scale", "count"))
    kind = fields.choice("type", tuple(SIZES), "u16")
    count = fields.whole("count", SIZES[kind], lowest=1, highest=2)
    if count != SIZES[kind]:
        raise InvalidInput(fields.at("count"), f"must be {SIZES[kind]} for {kind}, or left out")
    address = fields.whole("address", lowest=0, highest=65_536 - count)
    return LineRegister(address, kind, fields.factor("scale"))
