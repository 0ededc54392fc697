"""Of one session: do its signed records prove what is billed?

The rules are OCMF 1.2's ("Signing and Verification Process"): every record is verified with one and
the same key of one meter, pages follow each other without a gap, the first reading begins the
transaction and the last ends it, and no reading reports an error. Then the signed energy has to be
that of the session's registers, to the last digit the meter gives.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from enum import StrEnum
from itertools import pairwise
from typing import Final

from csms.metering.signed.record import Record, SignedReading
from csms.metering.signed.verdict import Verdict

BEGIN: Final = "B"
ENDS: Final = frozenset("ELRAP")
"""End of transaction: E, or why it ended: locally, remotely, aborted, loss of power (OCMF, table 7)."""
BROKEN: Final = "X"
GOOD: Final = "G"
IN_WH: Final = {"Wh": Decimal(1), "kWh": Decimal(1000)}
CLOCKS_APART: Final = timedelta(minutes=15)
"""How far the meter's clock and the charger's may be apart (common practice)."""


class Result(StrEnum):
    """`CONTRADICTED`: something is wrong. `NOT_PROVEN`: nothing is known to be wrong, but the proof
    is not whole. `NONE`: the session has no signed data."""

    NONE = "none"
    PENDING = "pending"
    PROVEN = "proven"
    NOT_PROVEN = "not_proven"
    CONTRADICTED = "contradicted"


@dataclass(frozen=True, slots=True, kw_only=True)
class Billed:
    """What is billed of a session: registers and energy in Wh, and its time (`ended_at` None: it runs)."""

    started_at: datetime
    ended_at: datetime | None
    start_wh: int | None
    stop_wh: int | None
    energy_wh: int


@dataclass(frozen=True, slots=True)
class Judged:
    """A record that was judged; `record` None where it could not be read. `elsewhere`: another
    session has the very same record too."""

    verdict: Verdict
    record: Record | None
    key_id: str | None
    elsewhere: bool = False


@dataclass(frozen=True, slots=True)
class Proof:
    """`energy_wh` is the signed energy from begin to end, None where there is none."""

    result: Result
    reasons: tuple[str, ...]
    energy_wh: Decimal | None = None
    serial: str = ""


_WORST: Final = {
    Verdict.WRONG_SIGNATURE: (Result.CONTRADICTED, "{} with a wrong signature"),
    Verdict.MALFORMED: (Result.NOT_PROVEN, "{} that cannot be read"),
    Verdict.UNKNOWN_KEY: (Result.NOT_PROVEN, "{} without a confirmed key of their meter"),
    Verdict.NOT_SUPPORTED: (Result.NOT_PROVEN, "{} that cannot be verified here"),
}


def prove(judged: Sequence[Judged], billed: Billed) -> Proof:
    """What the records of a session are worth together, in any order and with repeats."""
    if not judged:
        return Proof(Result.NONE, ("The session has no signed data.",))
    if any(each.verdict is Verdict.PENDING for each in judged):
        return Proof(Result.PENDING, ("Not all records were looked at yet.",))
    faults: list[str] = []
    gaps: list[str] = []
    counts = Counter(each.verdict for each in judged)
    for verdict, (result, words) in _WORST.items():
        if counts[verdict]:
            many = f"{counts[verdict]} of {len(judged)} records" if len(judged) > 1 else "The record"
            said = words.format(many) if len(judged) > 1 else f"A record {words[3:]}"
            (faults if result is Result.CONTRADICTED else gaps).append(f"{said}.")
    if any(each.elsewhere for each in judged):
        faults.append("Another session has the very same record.")
    records = [each.record for each in judged if each.record is not None and each.record.page[0] == "T"]
    if not records:
        gaps.append("There is no record of a transaction.")
        return _proof(faults, gaps, None, "")
    records.sort(key=lambda record: record.page[1])
    serials = sorted({record.serial for record in records})
    if len(serials) > 1:
        faults.append(f"The records are of several meters: {', '.join(serials)}.")
    keys = {each.key_id for each in judged if each.key_id is not None}
    if len(keys) > 1:
        faults.append("The records are signed by several keys.")
    faults += _pages(records)
    readings = _in_order(records)
    faults += _states(readings)
    more_faults, more_gaps = _ends(readings, billed)
    energy_wh, resolution_wh = _energy(readings)
    faults += more_faults
    gaps += more_gaps
    if energy_wh is None:
        gaps.append("There is no signed energy from a beginning to an end.")
    else:
        faults += _registers(energy_wh, resolution_wh, billed)
    faults += _times(readings, billed)
    return _proof(faults, gaps, energy_wh, serials[0] if len(serials) == 1 else "")


def _proof(faults: list[str], gaps: list[str], energy_wh: Decimal | None, serial: str) -> Proof:
    if faults:
        return Proof(Result.CONTRADICTED, (*faults, *gaps), energy_wh, serial)
    if gaps:
        return Proof(Result.NOT_PROVEN, tuple(gaps), energy_wh, serial)
    return Proof(
        Result.PROVEN,
        ("Begin, end and all between are signed and agree with the registers.",),
        energy_wh,
        serial,
    )


def _pages(records: Sequence[Record]) -> list[str]:
    pages = [record.page[1] for record in records]
    missing = [f"T{one + 1}" for one, other in pairwise(pages) if other > one + 1]
    same = [
        f"T{one.page[1]}"
        for one, other in pairwise(records)
        if one.page == other.page and one.payload != other.payload
    ]
    found = [f"Pages are missing from {', '.join(missing)} on."] if missing else []
    return found + ([f"Two different records have the page {', '.join(same)}."] if same else [])


def _in_order(records: Sequence[Record]) -> list[SignedReading]:
    """All readings, each once: the record at the end repeats the reading of the beginning."""
    found: list[SignedReading] = []
    for record in records:
        found += [reading for reading in record.readings if reading not in found]
    return sorted(found, key=lambda reading: reading.at)


def _states(readings: Sequence[SignedReading]) -> list[str]:
    bad = sorted({reading.status for reading in readings} - {GOOD})
    found = [f"The meter reports the state {', '.join(bad)} instead of {GOOD}."] if bad else []
    unusable = sorted({letter for reading in readings for letter in reading.errors})
    if unusable:
        found.append(f"The meter says that {', '.join(unusable)} cannot be used (E: energy, t: time).")
    if any(reading.reason == BROKEN for reading in readings):
        found.append("The meter reports an error during the charge.")
    return found


def _ends(readings: Sequence[SignedReading], billed: Billed) -> tuple[list[str], list[str]]:
    faults, gaps = [], []
    told = [reading for reading in readings if reading.reason]
    begins = {reading.at for reading in told if reading.reason == BEGIN}
    ends = {reading.at for reading in told if reading.reason in ENDS}
    if not begins:
        gaps.append("The signed reading of the beginning is missing.")
    elif len(begins) > 1 or told[0].at not in begins:
        faults.append("The signed readings hold more than one beginning, or one that is not the first.")
    if not ends:
        gaps.append(
            "The session has not ended, and neither have its signed readings."
            if billed.ended_at is None
            else "The signed reading of the end is missing."
        )
    elif len(ends) > 1 or told[-1].at not in ends:
        faults.append("The signed readings hold more than one end, or one that is not the last.")
    return faults, gaps


def _energy(readings: Sequence[SignedReading]) -> tuple[Decimal | None, Decimal]:
    """Energy from begin to end in Wh by the first quantity that both have, and its last digit in Wh."""
    begins = [reading for reading in readings if reading.reason == BEGIN]
    ends = [reading for reading in readings if reading.reason in ENDS]
    for begin in begins:
        for end in ends:
            if begin.value is None or end.value is None or begin.unit not in IN_WH:
                continue
            if (begin.quantity, begin.unit) == (end.quantity, end.unit):
                digit = max(_last_digit(begin.value), _last_digit(end.value))
                return (end.value - begin.value) * IN_WH[begin.unit], digit * IN_WH[begin.unit]
    return None, Decimal(0)


def _last_digit(value: Decimal) -> Decimal:
    exponent = value.as_tuple().exponent
    return Decimal(1).scaleb(min(0, exponent if isinstance(exponent, int) else 0))


def _registers(energy_wh: Decimal, resolution_wh: Decimal, billed: Billed) -> list[str]:
    """Both registers are rounded to our Wh and to the meter's last digit: so much may they differ."""
    if billed.ended_at is None:
        return []
    allowed = resolution_wh + 1
    found = []
    if energy_wh < 0:
        found.append(f"The signed register runs backwards, by {-energy_wh.normalize():f} Wh.")
    if billed.start_wh is not None and billed.stop_wh is not None:
        told_wh = billed.stop_wh - billed.start_wh
        if abs(energy_wh - told_wh) > allowed:
            found.append(
                f"Signed are {energy_wh.normalize():f} Wh, the charger's registers say {told_wh} Wh."
            )
    if abs(energy_wh - billed.energy_wh) > allowed:
        found.append(f"Signed are {energy_wh.normalize():f} Wh, the session has {billed.energy_wh} Wh.")
    return found


def _times(readings: Sequence[SignedReading], billed: Billed) -> list[str]:
    """Records of another charge would have all of the above; a clock that is not set proves nothing."""
    known = [reading.at for reading in readings if reading.clock in ("S", "R", "I")]
    until = billed.ended_at
    if known and (
        min(known) < billed.started_at - CLOCKS_APART or (until and max(known) > until + CLOCKS_APART)
    ):
        return [f"The signed readings are of another time: from {min(known):%Y-%m-%d %H:%M} UTC."]
    return []
