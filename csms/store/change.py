"""A change to the database that can be put together with others of its kind."""

from dataclasses import dataclass
from typing import Any

from sqlalchemy import Executable


@dataclass(frozen=True, slots=True)
class Change:
    """`statement` is a constant built once with bind parameters; `values` fill them in."""

    statement: Executable
    values: dict[str, Any]
