"""Of one record: has a key that is known to be the meter's signed just this?

Five verdicts, so that "we cannot tell" is never taken for "it is false". A key that came with the
data can only show that both belong together: anybody who makes up a record can make up its key.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec

from csms.metering.signed.curves import SUPPORTED, curve_of
from csms.metering.signed.keys.meter_key import KeyState, MeterKey
from csms.metering.signed.public_key import PublicKey
from csms.metering.signed.record import DER, Malformed, Record, parse
from csms.stations.signed import SignedValue

OCMF_NAMES = frozenset({"", "OCMF"})


class Verdict(StrEnum):
    """What a record is worth. `PENDING`: it was not looked at yet."""

    PENDING = "pending"
    VERIFIED = "verified"
    WRONG_SIGNATURE = "wrong_signature"
    UNKNOWN_KEY = "unknown_key"
    NOT_SUPPORTED = "not_supported"
    MALFORMED = "malformed"


@dataclass(frozen=True, slots=True)
class Judgement:
    """A verdict with its reasons. `key_id`: the confirmed key that the signature fits."""

    verdict: Verdict
    reasons: tuple[str, ...]
    key_id: str | None = None


def read(value: SignedValue) -> Record | Judgement:
    """The record in `value`, or what is wrong with it whatever keys there are."""
    if not value.data.strip():
        return Judgement(Verdict.MALFORMED, ("There is no text in it.",))
    if value.encoding.upper() not in OCMF_NAMES:
        return Judgement(
            Verdict.NOT_SUPPORTED, (f"Records in {value.encoding} cannot be read here, only OCMF.",)
        )
    try:
        record = parse(value.data)
    except Malformed as error:
        return Judgement(Verdict.MALFORMED, (f"This is no OCMF record: {error}.",))
    curve = curve_of(record.algorithm)
    if curve not in SUPPORTED:
        return Judgement(
            Verdict.NOT_SUPPORTED,
            (f"Signatures by {record.algorithm} cannot be verified here; that says nothing against it.",),
        )
    if record.mime != DER:
        return Judgement(
            Verdict.NOT_SUPPORTED, (f"A signature written as {record.mime} cannot be read here.",)
        )
    return record


def judge(record: Record, keys: Sequence[MeterKey], told: PublicKey | None) -> Judgement:
    """Of a record that could be read. `keys` are those of its serial numbers, in any state.

    `told` is the key that came with it.
    """
    confirmed = [key for key in keys if key.state is KeyState.CONFIRMED]
    valid = [key for key in confirmed if key.covers(record.at)]
    for key in valid:
        if fits(record, key.key):
            notes: tuple[str, ...] = (f"Signed by key {key.short} of meter {key.serial}.",)
            if told is not None and told.fingerprint != key.key.fingerprint:
                notes = (*notes, "Another key came with it; that one was not used.")
            return Judgement(Verdict.VERIFIED, notes, key.id)
    if valid:
        names = ", ".join(key.short for key in valid)
        return Judgement(
            Verdict.WRONG_SIGNATURE,
            (f"Not signed by key {names} of meter {record.serial}: changed on its way, or not its own.",),
        )
    if told is not None and not fits(record, told):
        return Judgement(
            Verdict.WRONG_SIGNATURE, ("The signature does not even fit the key that came with it.",)
        )
    return Judgement(Verdict.UNKNOWN_KEY, _why_unknown(record, keys, confirmed, told))


def fits(record: Record, key: PublicKey) -> bool:
    """Whether `key` has signed the record's payload (ECDSA over its SHA-256)."""
    if curve_of(record.algorithm) != key.curve:
        return False
    loaded = key.load()
    if loaded is None:
        return False
    try:
        loaded.verify(record.signature, record.payload, ec.ECDSA(hashes.SHA256()))
    except InvalidSignature:
        return False
    return True


def _why_unknown(
    record: Record, keys: Sequence[MeterKey], confirmed: Sequence[MeterKey], told: PublicKey | None
) -> tuple[str, ...]:
    reasons = []
    if confirmed:
        reasons.append(f"No key of meter {record.serial} is valid at {record.at:%Y-%m-%d %H:%M} UTC.")
    elif any(key.state is KeyState.REVOKED for key in keys):
        reasons.append(f"The key of meter {record.serial} was revoked.")
    else:
        reasons.append(f"Nobody has confirmed a key of meter {record.serial or 'without a serial number'}.")
    loose = [key.key for key in keys if key.state is KeyState.UNCONFIRMED]
    if told is not None or any(fits(record, key) for key in loose):
        reasons.append(
            "The signature fits a key that came with the data, which proves nothing: "
            "compare that key with the meter's own and confirm it."
        )
    return tuple(reasons)
