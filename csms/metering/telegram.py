"""Telegrams of a P1 port: bytes in, currents per line out. Sans-I/O.

After DSMR 5.0.2 P1 (Dutch Smart Meter Requirements, companion standard P1; from memory), which other
countries' ports follow: a telegram begins with `/`, ends with `!` and the CRC of all from `/` to
`!` in four hexadecimal digits, and has one object a line by its OBIS code (IEC 62056-61). The CRC is
CRC-16/ARC. A telegram without or with a wrong CRC is refused: a garbled digit may be 40 A.

Objects read: current per line 1-0:31.7.0, 51.7.0, 71.7.0 (A, without a sign); power per line taken
21.7.0, 41.7.0, 61.7.0 and given 22.7.0, 42.7.0, 62.7.0 (kW); voltage 32.7.0, 52.7.0, 72.7.0 (V);
power taken 1.7.0 and given 2.7.0 (kW); the meter's clock 0-0:1.0.0.
"""

import re
from dataclasses import dataclass

from csms.metering.building import current
from csms.stations.model import PerLine

LONGEST_TELEGRAM = 16_384
HALF_STEP_A = 0.5

_OBJECT = re.compile(
    r"(\d{1,3}-\d{1,3}:\d{1,3}\.\d{1,3}\.\d{1,3})\(([^()*]{0,64})(?:\*([A-Za-z0-9]{1,8}))?\)"
)
_UNITS = {"A": 1.0, "V": 1.0, "kW": 1000.0}
_GROUPS = (20, 40, 60)


@dataclass(frozen=True, slots=True)
class Telegram:
    """`clock`: the meter's own time as it spells it; two telegrams of one instant are one.

    `power_w`: taken less given, over all lines.
    """

    clock: str | None
    current_a: PerLine
    power_w: float | None


class Telegrams:
    """Cuts a stream of bytes into telegrams, from `/` to the line of `!`."""

    def __init__(self) -> None:
        self._buffer = b""

    def feed(self, data: bytes) -> list[bytes]:
        """The telegrams that `data` completes. What is before a `/` belongs to none."""
        self._buffer += data
        found: list[bytes] = []
        while True:
            start = self._buffer.find(b"/")
            self._buffer = self._buffer[start:] if start >= 0 else b""
            mark = self._buffer.find(b"\n!")
            end = self._buffer.find(b"\n", mark + 2) if mark >= 0 else -1
            if end < 0:
                break
            found.append(self._buffer[: end + 1])
            self._buffer = self._buffer[end + 1 :]
        if len(self._buffer) > LONGEST_TELEGRAM:
            self._buffer = b""
        return found


def crc16(data: bytes) -> int:
    """CRC-16/ARC: polynomial 0x8005 bit by bit from the low end, initial value 0."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0xA001 if crc & 1 else crc >> 1
    return crc


def parse_telegram(raw: bytes) -> Telegram:
    """The currents of a telegram. ValueError says why it cannot be trusted."""
    mark = raw.rfind(b"!")
    given = raw[mark + 1 :].strip()
    if mark < 0 or not re.fullmatch(rb"[0-9A-Fa-f]{4}", given):
        raise ValueError("a telegram came without a CRC")
    if (expected := crc16(raw[: mark + 1])) != int(given, 16):
        raise ValueError(f"a telegram came with a wrong CRC: {given.decode()} instead of {expected:04X}")
    clock: str | None = None
    values: dict[str, tuple[float, bool]] = {}
    for line in raw.decode("latin-1").splitlines():
        if (match := _OBJECT.match(line)) is None:
            continue
        code, text, unit = match.groups()
        if code == "0-0:1.0.0":
            clock = text
        elif code.startswith("1-0:") and unit in _UNITS:
            number = current(text)
            if number is not None:
                values[code[4:]] = (number * _UNITS[unit], "." in text)
    l1, l2, l3 = (_line(values, group) for group in _GROUPS)
    taken, given_w = values.get("1.7.0"), values.get("2.7.0", (0.0, False))
    return Telegram(clock, (l1, l2, l3), None if taken is None else taken[0] - given_w[0])


def _line(values: dict[str, tuple[float, bool]], group: int) -> float | None:
    """The line's current with the sign of its power; None when the meter does not tell it.

    Many meters tell whole amperes: such a one counts half an ampere higher (out of a line: lower), and never
    less than its active power over its voltage.
    """
    if (told := values.get(f"{group + 11}.7.0")) is None:
        return None
    size_a, fine = abs(told[0]), told[1]
    slack_a = 0.0 if fine else HALF_STEP_A
    taken_w, given_w, volts = (values.get(f"{group + part}.7.0", (0.0, False))[0] for part in (1, 2, 12))
    if given_w > taken_w:
        return -max(0.0, size_a - slack_a)
    active_a = taken_w / volts if volts > 0 else 0.0
    return max(size_a + slack_a, active_a)
