"""P1 telegrams: structure and codes as DSMR 5.0.2 P1 has them (from memory); the values are invented."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from csms.metering.telegram import LONGEST_TELEGRAM, Telegrams, crc16, parse_telegram

HEAD = "/WEA5\\2MILL-METER\r\n\r\n1-3:0.2.8(50)\r\n0-0:1.0.0(261102120000W)\r\n"
LINES = (
    "1-0:1.7.0(04.210*kW)\r\n1-0:2.7.0(00.000*kW)\r\n"
    "1-0:32.7.0(230.1*V)\r\n1-0:52.7.0(229.8*V)\r\n1-0:72.7.0(231.0*V)\r\n"
    "1-0:31.7.0(009*A)\r\n1-0:51.7.0(005*A)\r\n1-0:71.7.0(004*A)\r\n"
    "1-0:21.7.0(02.150*kW)\r\n1-0:41.7.0(01.160*kW)\r\n1-0:61.7.0(00.900*kW)\r\n"
    "1-0:22.7.0(00.000*kW)\r\n1-0:42.7.0(00.000*kW)\r\n1-0:62.7.0(00.000*kW)\r\n"
)


def sealed(text: str) -> bytes:
    body = f"{text}!".encode()
    return body + f"{crc16(body):04X}\r\n".encode()


def test_the_crc_is_the_catalogues() -> None:
    """CRC-16/ARC, check value of "123456789" in the catalogue of parametrised CRC algorithms."""
    assert crc16(b"123456789") == 0xBB3D
    assert crc16(b"") == 0


@given(st.binary(max_size=64), st.integers(0, 511))
def test_the_crc_sees_every_single_flipped_bit(data: bytes, place: int) -> None:
    if data:
        byte, bit = divmod(place % (len(data) * 8), 8)
        changed = bytearray(data)
        changed[byte] ^= 1 << bit
        assert crc16(bytes(changed)) != crc16(data)


def test_currents_power_and_the_meters_clock_are_read() -> None:
    telegram = parse_telegram(sealed(HEAD + LINES))
    assert telegram.clock == "261102120000W"
    assert telegram.power_w == pytest.approx(4210)
    # Whole amperes count half an ampere higher, as the meter rounds.
    assert telegram.current_a == (9.5, 5.5, 4.5)


def test_a_current_is_never_less_than_its_power_over_its_voltage() -> None:
    low = LINES.replace("31.7.0(009*A)", "31.7.0(006*A)")
    l1, _, _ = parse_telegram(sealed(HEAD + low)).current_a
    assert l1 == pytest.approx(2150 / 230.1)


def test_decimals_are_taken_as_they_are() -> None:
    fine = LINES.replace("31.7.0(009*A)", "31.7.0(9.41*A)")
    assert parse_telegram(sealed(HEAD + fine)).current_a[0] == 9.41


def test_an_export_has_a_sign_by_its_power() -> None:
    sunny = LINES.replace("21.7.0(02.150*kW)", "21.7.0(00.000*kW)").replace(
        "22.7.0(00.000*kW)", "22.7.0(02.100*kW)"
    )
    telegram = parse_telegram(sealed(HEAD + sunny.replace("2.7.0(00.000", "2.7.0(01.000", 1)))
    assert telegram.current_a == (-8.5, 5.5, 4.5)


def test_a_line_that_is_not_told_is_missing() -> None:
    aron = LINES.replace("1-0:51.7.0(005*A)\r\n", "")
    assert parse_telegram(sealed(HEAD + aron)).current_a == (9.5, None, 4.5)
    odd = LINES.replace("51.7.0(005*A)", "51.7.0(*A)")
    assert parse_telegram(sealed(HEAD + odd)).current_a == (9.5, None, 4.5)
    other_unit = LINES.replace("51.7.0(005*A)", "51.7.0(005*x)")
    assert parse_telegram(sealed(HEAD + other_unit)).current_a == (9.5, None, 4.5)
    empty = parse_telegram(sealed(HEAD))
    assert (empty.current_a, empty.power_w) == ((None, None, None), None)


def test_a_wrong_crc_is_refused() -> None:
    good = sealed(HEAD + LINES)
    with pytest.raises(ValueError, match="wrong CRC"):
        parse_telegram(good.replace(b"31.7.0(009*A)", b"31.7.0(001*A)"))
    with pytest.raises(ValueError, match="without a CRC"):
        parse_telegram((HEAD + LINES + "!\r\n").encode())
    with pytest.raises(ValueError, match="without a CRC"):
        parse_telegram(b"no telegram at all")


@given(st.lists(st.integers(1, 40), min_size=1, max_size=40))
def test_a_stream_is_cut_into_telegrams_wherever_it_is_broken(sizes: list[int]) -> None:
    wanted = [sealed(HEAD + LINES), sealed(HEAD)]
    stream = b"31.7.0(009*A)\r\n!ABCD\r\n" + b"".join(wanted)
    telegrams, found, position = Telegrams(), [], 0
    for size in sizes:
        found += telegrams.feed(stream[position : position + size])
        position += size
    found += telegrams.feed(stream[position:])
    assert found == wanted


def test_noise_without_an_end_is_not_kept() -> None:
    telegrams = Telegrams()
    assert telegrams.feed(b"/" + b"x" * (LONGEST_TELEGRAM + 1)) == []
    assert telegrams.feed(sealed(HEAD)) == [sealed(HEAD)]


@given(st.binary(max_size=200))
def test_any_bytes_are_a_telegram_or_refused(data: bytes) -> None:
    try:
        told = parse_telegram(data + b"!" + f"{crc16(data + b'!'):04X}".encode())
    except ValueError:
        return
    assert len(told.current_a) == 3
