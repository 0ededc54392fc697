"""Column types that mean the same on both databases.

SQLite keeps no time zone and stores decimals as floats, so neither is used: instants are
UTC and come back aware, amounts are integers of a small unit named in the column.
"""

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import JSON, BigInteger, DateTime, Integer, TypeDecorator
from sqlalchemy.dialects.postgresql import JSONB
from sqlalchemy.engine import Dialect


class Instant(TypeDecorator[datetime]):
    """An aware UTC datetime. A naive one is refused rather than guessed."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("an instant needs a time zone")
        value = value.astimezone(UTC)
        return value.replace(tzinfo=None) if dialect.name == "sqlite" else value

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


Document: Any = JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql")
"""A JSON value."""

RowId: Any = BigInteger().with_variant(Integer(), "sqlite")
"""An integer primary key that the database counts up and never uses twice."""
