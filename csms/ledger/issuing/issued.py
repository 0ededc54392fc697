"""What was issued, without its content: runs and documents as lists show them."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A month that was issued. `seen`: digests of the months that it looked at."""

    id: str
    site_id: str
    period: str
    issued_at: datetime
    currency: str
    rule_version: str
    inputs_hash: str
    seen: Mapping[str, str]
    proof: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """An issued document without its body."""

    id: str
    site_id: str
    run_id: str | None
    member_id: str
    kind: str
    series: str
    sequence: int
    number: str
    period: str
    issued_at: datetime
    due_on: date | None
    currency: str
    net_minor: int
    vat_minor: int
    gross_minor: int
    hash: str
    upto_entry: int
    corrects_id: str | None
    replaces_id: str | None
