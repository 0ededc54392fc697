"""A fact: what happened, as a value. `outbox` writes it down, rules read it."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """`topic` is dotted, e.g. `session.ended`; `subject` names what it is about."""

    topic: str
    at: datetime
    site_id: str | None = None
    subject: str = ""
    body: dict[str, Any] = field(default_factory=dict)
