"""Registers as words; the server of the package is in the shared suite."""

import struct
import sys
from typing import Any

import pytest

from csms.metering.inputs.modbus import LineRegister, ModbusInput
from tests.csms.metering.conftest import SUPPLY, Yard
from tests.csms.metering.rigs import until


def meter(**more: Any) -> ModbusInput:
    return ModbusInput.parse({"host": "10.0.0.7", "lines": {"L1": {"address": 12}}, **more}, "meter.input")


def test_what_is_left_out_is_usual() -> None:
    found = meter()
    assert (found.port, found.unit_id, found.table, found.word_order) == (502, 1, "holding", "big")
    assert found.lines == {"L1": LineRegister(12, "u16", 1.0)}


@pytest.mark.parametrize(
    ("kind", "order", "words", "amps"),
    [
        # IEEE 754 binary32: 12.5 is 0x41480000, -118.625 is 0xC2ED4000 (both by hand).
        ("float32", "big", [0x4148, 0x0000], 12.5),
        ("float32", "little", [0x0000, 0x4148], 12.5),
        ("float32", "big", [0xC2ED, 0x4000], -118.625),
        ("u16", "big", [0x0010], 16.0),
        ("u16", "little", [0x8000], 32768.0),
        ("i16", "big", [0xFFFE], -2.0),
        ("u32", "big", [0x0001, 0x0000], 65536.0),
        ("u32", "little", [0x0001, 0x0000], 1.0),
        ("i32", "big", [0xFFFF, 0xFFFF], -1.0),
        ("float32", "big", [0x7FC0, 0x0000], None),
        ("float32", "big", [0x7F80, 0x0000], None),
        ("u16", "big", [0xFFFF], None),
        ("i16", "big", [0x8000], None),
        ("u32", "big", [0xFFFF, 0xFFFF], None),
        ("i32", "big", [0x8000, 0x0000], None),
        ("i32", "little", [0x0000, 0x8000], None),
    ],
)
def test_words_become_amperes_or_a_missing_line(
    kind: str, order: str, words: list[int], amps: float | None
) -> None:
    assert meter(word_order=order).value(LineRegister(0, kind), words) == amps


def test_the_scale_may_turn_the_sign() -> None:
    (word,) = struct.unpack(">H", struct.pack(">h", -125))
    assert meter().value(LineRegister(0, "i16", -0.1), [word]) == pytest.approx(12.5)


async def test_without_the_package_it_says_what_to_install(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pymodbus", None)
    await yard.measure({"kind": "modbus", "host": "127.0.0.1", "lines": {"L1": {"address": 1}}})
    await yard.meters.start()
    await until(lambda: "install phaseyard[meters]" in yard.meters.shown(SUPPLY).error)
