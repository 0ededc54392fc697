"""A document that was made of a statement, or why it could not be; and how far a month's documents are."""

import re
from dataclasses import dataclass
from datetime import datetime

_UNFIT = re.compile(r'[\x00-\x1f\x7f<>:"/\\|?*]+')


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """`problem` is empty when the PDF is there; `hash` and `size` (bytes) are the PDF's.
    `electronic`: it carries its EN 16931 invoice."""

    statement_id: str
    site_id: str
    period: str
    number: str
    member_name: str
    problem: str
    hash: str
    size: int
    electronic: bool
    made_at: datetime

    @property
    def file_name(self) -> str:
        """A name that every file system takes, the number first: `S-00012 Flat 12.pdf`."""
        name = _UNFIT.sub(" ", f"{self.number} {self.member_name}")
        return f"{' '.join(name.split())[:100].strip(' .')}.pdf"


@dataclass(frozen=True, slots=True)
class Failure:
    """A document that could not be made, and why."""

    statement_id: str
    number: str
    member_name: str
    problem: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """Of `statements` that are issued for the month, `made` have their document. `running`: more are being
    made by this server."""

    statements: int
    made: int
    failures: tuple[Failure, ...] = ()
    running: bool = False

    @property
    def complete(self) -> bool:
        """Whether every statement has its document."""
        return self.made == self.statements
