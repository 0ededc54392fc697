"""OCMF records, right and wrong (OCMF 1.2, tables 1 to 8)."""

import base64
from datetime import UTC, datetime
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from csms.metering.signed.record import Malformed, parse
from tests.csms.metering.signed.meter import Meter, reading

TAIL = '|{"SD":"3045"}'
RD = '"RD":[{"TM":"2018-07-24T13:22:04,000+0200 S","TX":"B","RV":1.50,"RI":"1-b:1.8.0","RU":"kWh","ST":"G"}]'


def test_a_bar_inside_a_text_ends_nothing() -> None:
    record = parse(Meter().record(reading("B", "1.00"), GI='mill | race |{"SD":"00"} \\" end'))
    assert (record.gateway_serial, record.page, len(record.readings)) == ("GATE", ("T", 1), 1)


def test_the_payload_is_what_lies_between_the_bars_blanks_and_all() -> None:
    inside = ' {\n "PG": "T7", "MS": "M",\t' + RD + " } "
    record = parse(f"  OCMF|{inside}|\n {{ }} ".replace("{ }", '{"SD":"3045","SE":"hex"}'))
    assert record.payload == inside.encode()
    assert (record.algorithm, record.signature) == ("ECDSA-secp256r1-SHA256", b"\x30\x45")


def test_what_a_reading_leaves_out_is_as_in_the_one_before() -> None:
    rd = RD[:-1] + ',{"TM":"2018-07-24T13:26:04,500+0200 U","TX":"E","RV":2.10,"EF":"t"}]'
    first, last = parse('OCMF|{"PG":"F3","GS":"G",' + rd + "}" + TAIL).readings
    assert (last.quantity, last.unit, last.status, last.errors) == ("1-b:1.8.0", "kWh", "G", "t")
    assert first.at == datetime(2018, 7, 24, 11, 22, 4, tzinfo=UTC)
    assert last.at == datetime(2018, 7, 24, 11, 26, 4, 500000, tzinfo=UTC)
    assert (str(first.value), last.value, first.clock, last.clock) == ("1.50", Decimal("2.1"), "S", "U")


def test_a_signature_in_base64() -> None:
    tail = f'|{{"SE":"base64","SD":"{base64.b64encode(b"sig").decode()}"}}'
    record = parse('OCMF|{"PG":"T1","MS":"M",' + RD + "}" + tail)
    assert record.signature == b"sig"
    assert record.serial == "M"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "begin with OCMF"),
        ("OCMX|{}|{}", "begin with OCMF"),
        ("OCMF|[]" + TAIL, "payload is no JSON object"),
        ("OCMF|{" + TAIL, "payload is no JSON"),
        ('OCMF|{"a":1} x' + TAIL, "no bar"),
        ('OCMF|{"PG":"T1"}', "no bar"),
        ("OCMF|{}|", "signature is no JSON object"),
        ('OCMF|{"PG":"T1"}|{"SD":"30"}|', "follows the signature"),
        ('OCMF|{"PG":"T1","PG":"T2"}' + TAIL, "twice"),
        ('OCMF|{"PG":NaN}' + TAIL, "no JSON"),
        ("OCMF|" + '{"a":' * 5000 + TAIL, "no JSON"),
        ('OCMF|{"PG":"X1",' + RD + "}" + TAIL, "PG"),
        ('OCMF|{"PG":1,' + RD + "}" + TAIL, "PG is no text"),
        ('OCMF|{"PG":"T1"}' + TAIL, "RD has no readings"),
        ('OCMF|{"PG":"T1","RD":[1]}' + TAIL, "RD[0] is no object"),
        ('OCMF|{"PG":"T1",' + RD.replace("2018-07", "2018-17") + "}" + TAIL, "RD[0].TM"),
        ('OCMF|{"PG":"T1",' + RD.replace(',"ST":"G"', "") + "}" + TAIL, "RD[0].ST"),
        ('OCMF|{"PG":"T1",' + RD.replace("1.50", '"1.50"') + "}" + TAIL, "RD[0].RV"),
        ('OCMF|{"PG":"T1",' + RD.replace("1.50", "1e999999") + "}" + TAIL, "RD[0].RV"),
        ('OCMF|{"PG":"T1",' + RD.replace("1.50", "1e-13") + "}" + TAIL, "RD[0].RV"),
        ('OCMF|{"PG":"T1","MS":"\\ud800",' + RD + "}" + TAIL, "MS is no text"),
        ('OCMF|{"PG":"T1",' + RD + '}|{"SD":"xyz"}', "SD is no signature"),
        ('OCMF|{"PG":"T1",' + RD + '}|{"SD":"00","SE":"words"}', "SD is no signature in words"),
    ],
)
def test_what_is_no_record_says_where(text: str, words: str) -> None:
    with pytest.raises(Malformed) as refused:
        parse(text)
    assert words in str(refused.value)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_nothing_but_malformed_comes_of_any_text(data: st.DataObject) -> None:
    whole = 'OCMF|{"PG":"T1","MS":"M",' + RD + "}" + TAIL
    start = data.draw(st.integers(0, len(whole)))
    end = data.draw(st.integers(start, len(whole)))
    text = whole[:start] + data.draw(st.text(max_size=6)) + whole[end:]
    try:
        record = parse(text)
    except Malformed:
        return
    assert text.strip().startswith(f"OCMF|{record.payload.decode()}|")
