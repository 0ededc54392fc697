"""A signed record as it is kept, and a session's all together."""

from dataclasses import dataclass
from datetime import datetime

from csms.metering.signed.proof import Proof
from csms.metering.signed.verdict import Verdict
from csms.stations.signed import SignedValue


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredRecord:
    """`at` and `context` are those of the reading that it came with; ids count up by arrival.

    `serial` is the meter's as the record has it, None until it was read.
    """

    id: int
    station_id: str
    evse: int | None
    session_id: int | None
    at: datetime
    context: str
    value: SignedValue
    digest: str
    serial: str | None
    verdict: Verdict
    reasons: tuple[str, ...]
    key_id: str | None
    judged_at: datetime | None


@dataclass(frozen=True, slots=True)
class SignedSession:
    """What a session has of signed data, and what it is worth together."""

    proof: Proof
    records: tuple[StoredRecord, ...]
