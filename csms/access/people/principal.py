"""Who asks, and what they may do."""

from dataclasses import dataclass
from enum import StrEnum


class Role(StrEnum):
    """`MANAGER` may do everything, `READER` may only look."""

    MANAGER = "manager"
    READER = "reader"

    @property
    def may_write(self) -> bool:
        return self is Role.MANAGER


class PrincipalKind(StrEnum):
    """How they proved who they are."""

    PERSON = "person"
    KEY = "key"


@dataclass(frozen=True, slots=True)
class Principal:
    """A person who has signed in, or a program with a key."""

    kind: PrincipalKind
    name: str
    role: Role

    def __str__(self) -> str:
        """As the journals name them, e.g. `key:accounting`."""
        return f"{self.kind}:{self.name}"
