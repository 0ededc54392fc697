"""One self-test of a charger's protection, and when the next is due."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum


class TestSource(StrEnum):
    """Who did it."""

    __test__ = False  # the name is no test of ours

    CHARGER = "charger"
    PERSON = "person"


@dataclass(frozen=True, slots=True, kw_only=True)
class SelfTest:
    """`evse` 0: of the whole charger."""

    id: int = 0
    station_id: str
    evse: int = 0
    at: datetime
    passed: bool
    source: TestSource
    detail: str = ""
    written_by: str = ""


EVERY = {TestSource.CHARGER: timedelta(hours=26), TestSource.PERSON: timedelta(days=184)}
"""How long a test holds: each 24 h with two hours' grace, or six months when done by hand."""


def due_at(last: SelfTest | None, created_at: datetime) -> datetime:
    """When the next test is due. A charger that never told of one is tested by hand."""
    if last is None:
        return created_at + EVERY[TestSource.PERSON]
    return last.at + EVERY[last.source]
