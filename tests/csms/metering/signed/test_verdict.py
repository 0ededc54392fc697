"""Five verdicts; "we cannot tell" is none of "it is false"."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from csms.metering.signed.keys.meter_key import KeyState, MeterKey
from csms.metering.signed.record import Record
from csms.metering.signed.verdict import Judgement, Verdict, judge, read
from csms.stations.signed import SignedValue
from tests.csms.metering.signed.meter import BEGAN, SERIAL, Meter, reading

METER = Meter()
TEXT = METER.record(reading("B", "1.00"))


def record(text: str = TEXT) -> Record:
    found = read(SignedValue(text, text))
    assert isinstance(found, Record)
    return found


def known(meter: Meter = METER, state: KeyState = KeyState.CONFIRMED) -> MeterKey:
    at = datetime(2026, 1, 1, tzinfo=UTC)
    return MeterKey(id="key_1", serial=SERIAL, key=meter.key, state=state, created_at=at)


def test_signed_by_the_meters_key() -> None:
    assert judge(record(), [known(Meter()), known()], None) == Judgement(
        Verdict.VERIFIED, (f"Signed by key {known().short} of meter {SERIAL}.",), "key_1"
    )
    noted = judge(record(), [known()], Meter().key)
    assert noted.verdict is Verdict.VERIFIED
    assert "Another key came with it" in noted.reasons[1]


def test_changed_or_of_another_meter() -> None:
    for text in (TEXT.replace("1.00", "9.00"), Meter().record(reading("B", "1.00"))):
        found = judge(record(text), [known()], METER.key)
        assert (found.verdict, found.key_id) == (Verdict.WRONG_SIGNATURE, None)


def test_a_key_that_came_with_the_data_proves_nothing() -> None:
    loose = known(state=KeyState.UNCONFIRMED)
    for keys, told in (([], METER.key), ([loose], METER.key), ([loose], None)):
        found = judge(record(), keys, told)
        assert found.verdict is Verdict.UNKNOWN_KEY
        assert "proves nothing" in " ".join(found.reasons)
    assert judge(record(), [], Meter().key).verdict is Verdict.WRONG_SIGNATURE
    bare = judge(record(), [], None)
    assert bare == Judgement(Verdict.UNKNOWN_KEY, (f"Nobody has confirmed a key of meter {SERIAL}.",))


def test_a_key_counts_for_its_time_only() -> None:
    late = replace(known(), valid_from=BEGAN + timedelta(seconds=1))
    found = judge(record(), [late], None)
    assert found.verdict is Verdict.UNKNOWN_KEY
    assert "is valid at 2026-11-02 11:00 UTC" in found.reasons[0]
    assert judge(record(), [replace(known(), valid_from=BEGAN)], None).verdict is Verdict.VERIFIED
    assert judge(record(), [replace(known(), valid_to=BEGAN)], None).verdict is Verdict.UNKNOWN_KEY
    revoked = judge(record(), [known(state=KeyState.REVOKED)], None)
    assert (revoked.verdict, "revoked" in revoked.reasons[0]) == (Verdict.UNKNOWN_KEY, True)


@pytest.mark.parametrize(
    ("value", "verdict", "words"),
    [
        (SignedValue("x", ""), Verdict.MALFORMED, "no text"),
        (SignedValue("x", "<xml/>"), Verdict.MALFORMED, "no OCMF record"),
        (SignedValue("x", "aa", "EDL"), Verdict.NOT_SUPPORTED, "EDL"),
        (SignedValue("x", TEXT.replace("secp256r1", "secp192k1")), Verdict.NOT_SUPPORTED, "secp192k1"),
        (SignedValue("x", TEXT.replace('"SD"', '"SM":"text/odd","SD"')), Verdict.NOT_SUPPORTED, "text/odd"),
    ],
)
def test_what_no_key_could_help(value: SignedValue, verdict: Verdict, words: str) -> None:
    found = read(value)
    assert isinstance(found, Judgement)
    assert found.verdict is verdict
    assert words in found.reasons[0]


def test_a_signature_by_another_algorithm_than_the_keys_does_not_fit() -> None:
    text = TEXT.replace("secp256r1", "secp384r1")
    assert judge(record(text), [known()], None).verdict is Verdict.WRONG_SIGNATURE


def test_a_signature_that_is_no_signature_does_not_fit() -> None:
    cut = TEXT[: TEXT.index('"SD":"') + 16] + '"}'
    assert judge(record(cut), [known()], None).verdict is Verdict.WRONG_SIGNATURE
