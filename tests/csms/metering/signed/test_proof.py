"""Does a session's signed data prove what is billed? The rules of OCMF 1.2, one by one."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from csms.metering.signed.proof import Billed, Judged, Proof, Result, prove
from csms.metering.signed.record import parse
from csms.metering.signed.verdict import Verdict
from tests.csms.metering.signed.meter import BEGAN, SERIAL, Meter, reading

HOUR = timedelta(hours=1)
BILLED = Billed(started_at=BEGAN, ended_at=BEGAN + HOUR, start_wh=100_000, stop_wh=107_360, energy_wh=7_360)


def judged(*texts: str, verdict: Verdict = Verdict.VERIFIED) -> list[Judged]:
    return [Judged(verdict, parse(text), "key_1") for text in texts]


def contradicted(proof: Proof, words: str) -> None:
    assert proof.result is Result.CONTRADICTED
    assert words in " ".join(proof.reasons)


def not_proven(proof: Proof, words: str) -> None:
    assert proof.result is Result.NOT_PROVEN, proof
    assert words in " ".join(proof.reasons)


def test_begin_and_end_that_agree_with_the_registers_prove_it() -> None:
    first, last = Meter().charge()
    for texts in ((first, last), (last, first), (first, last, last)):
        proof = prove(judged(*texts), BILLED)
        assert (proof.result, proof.energy_wh, proof.serial) == (Result.PROVEN, Decimal(7360), SERIAL)


def test_one_record_with_both_readings_proves_it_too() -> None:
    """OCMF's StopTransactionSignatureFormat MR, also after the beginning was sent alone."""
    meter = Meter()
    begin, end = reading("B", "100.00"), reading("E", "107.36", BEGAN + HOUR)
    alone, both = meter.record(begin), meter.record(begin, end)
    assert prove(judged(both), BILLED).result is Result.PROVEN
    assert prove(judged(alone, both), BILLED).result is Result.PROVEN


def test_without_signed_data_there_is_none_and_before_a_look_it_is_pending() -> None:
    assert prove([], BILLED).result is Result.NONE
    assert prove(judged(*Meter().charge(), verdict=Verdict.PENDING), BILLED).result is Result.PENDING


@pytest.mark.parametrize(
    ("verdict", "result"),
    [
        (Verdict.WRONG_SIGNATURE, Result.CONTRADICTED),
        (Verdict.UNKNOWN_KEY, Result.NOT_PROVEN),
        (Verdict.NOT_SUPPORTED, Result.NOT_PROVEN),
        (Verdict.MALFORMED, Result.NOT_PROVEN),
    ],
)
def test_one_bad_record_is_enough(verdict: Verdict, result: Result) -> None:
    first, last = judged(*Meter().charge())
    proof = prove([first, replace(last, verdict=verdict)], BILLED)
    assert proof.result is result
    assert "1 of 2 records" in proof.reasons[0]


def test_a_missing_page_and_two_of_one_number() -> None:
    meter = Meter()
    first, _lost, last = (
        meter.record(reading("B", "100.00")),
        meter.record(reading("C", "103.00", BEGAN + HOUR / 2)),
        meter.record(reading("E", "107.36", BEGAN + HOUR)),
    )
    contradicted(prove(judged(first, last), BILLED), "Pages are missing from T2")
    meter.page = 0
    other = meter.record(reading("B", "100.00"), GI="twice")
    contradicted(prove(judged(first, other, _lost, last), BILLED), "Two different records")


def test_another_meter_or_key() -> None:
    first, _ = Meter().charge()
    meter = Meter("LOOM0002")
    _, last = meter.charge()
    proof = prove(judged(first, last), BILLED)
    contradicted(proof, "several meters: LOOM0001, LOOM0002")
    assert proof.serial == ""
    one, two = judged(*meter.charge())
    contradicted(prove([one, replace(two, key_id="key_2")], BILLED), "several keys")


def test_a_record_of_another_session() -> None:
    first, last = judged(*Meter().charge())
    contradicted(prove([first, replace(last, elsewhere=True)], BILLED), "very same record")
    later = replace(BILLED, started_at=BEGAN + 9 * HOUR, ended_at=BEGAN + 10 * HOUR)
    contradicted(prove([first, last], later), "another time")


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"ST": "M"}, "state M instead of G"),
        ({"EF": "E"}, "E cannot be used"),
        ({"TX": "X"}, "error during the charge"),
    ],
)
def test_what_the_meter_itself_says_against_it(more: dict[str, str], words: str) -> None:
    meter = Meter()
    begin, end = reading("B", "100.00"), reading("E", "107.36", BEGAN + HOUR)
    odd = reading("C", "103.00", BEGAN + HOUR / 2, **more)
    texts = meter.record(begin), meter.record(odd), meter.record({"EF": "", **end})
    contradicted(prove(judged(*texts), BILLED), words)


def test_ends_that_are_not_there() -> None:
    first, last = Meter().charge()
    not_proven(prove(judged(first), BILLED), "reading of the end is missing")
    not_proven(prove(judged(last), BILLED), "reading of the beginning is missing")
    running = replace(BILLED, ended_at=None, stop_wh=None)
    not_proven(prove(judged(first), running), "has not ended")
    fiscal = Meter().sign(first[first.index("{") : first.index("}|") + 1].replace('"T1"', '"F1"'))
    not_proven(prove(judged(fiscal), BILLED), "no record of a transaction")


def test_a_second_beginning_or_end() -> None:
    meter = Meter()
    texts = [*meter.charge("100.00", "101.00", 0.25), *meter.charge("101.00", "107.36")]
    again = texts[2].replace("T11:00:00", "T11:20:00")
    contradicted(prove(judged(*texts[:2], again, texts[3]), BILLED), "more than one beginning")
    contradicted(prove(judged(*texts[:2], again, texts[3]), BILLED), "more than one end")


@pytest.mark.parametrize("code", list("ELRAP"))
def test_all_codes_of_an_end_end_it(code: str) -> None:
    meter = Meter()
    texts = meter.record(reading("B", "100.00")), meter.record(reading(code, "107.36", BEGAN + HOUR))
    assert prove(judged(*texts), BILLED).result is Result.PROVEN


@pytest.mark.parametrize(
    ("energy_wh", "stop_wh", "result"),
    [
        (7_371, 107_371, Result.PROVEN),
        (7_372, 107_360, Result.CONTRADICTED),
        (7_360, 107_372, Result.CONTRADICTED),
        (7_349, 107_349, Result.PROVEN),
        (7_348, 107_348, Result.CONTRADICTED),
    ],
)
def test_energy_may_differ_by_the_last_digit(energy_wh: int, stop_wh: int, result: Result) -> None:
    """Two decimals of a kWh are 10 Wh, and our own register one more."""
    billed = replace(BILLED, energy_wh=energy_wh, stop_wh=stop_wh)
    assert prove(judged(*Meter().charge()), billed).result is result


def test_a_register_that_runs_backwards() -> None:
    contradicted(prove(judged(*Meter().charge("107.36", "100.00")), BILLED), "backwards")


def test_readings_of_no_energy_prove_none() -> None:
    meter = Meter()
    texts = (
        meter.record(reading("B", "1.0", RU="mOhm")),
        meter.record(reading("E", "2.0", BEGAN + HOUR, RU="mOhm")),
    )
    not_proven(prove(judged(*texts), BILLED), "no signed energy")
