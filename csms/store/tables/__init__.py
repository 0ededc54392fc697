"""The tables, one file per feature. Import `metadata` from here to see them all."""

from csms.store.tables import (
    access,
    alarms,
    documents,
    firmware,
    ledger,
    market,
    metering,
    people,
    planning,
    power,
    quirks,
    security,
    sessions,
    sites,
    stations,
    system,
    tariffs,
)
from csms.store.tables.base import metadata

__all__ = [
    "access",
    "alarms",
    "documents",
    "firmware",
    "ledger",
    "market",
    "metadata",
    "metering",
    "people",
    "planning",
    "power",
    "quirks",
    "security",
    "sessions",
    "sites",
    "stations",
    "system",
    "tariffs",
]
