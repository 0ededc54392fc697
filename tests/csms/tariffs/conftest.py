"""Tariffs and sessions written as briefly as a test can say them."""

from collections.abc import Callable
from typing import Any

import pytest

from csms.store.database import Database
from csms.tariffs.parsing import parse_tariff
from csms.tariffs.quote import price_document
from csms.tariffs.tariff import Tariff
from tests.csms.yard import build_yard

Quote = Callable[..., dict[str, Any]]


def document(*elements: tuple[Any, ...], **fields: object) -> dict[str, object]:
    """`(restrictions or None, (type, price, step_size, vat), …)` per element; EUR unless said."""
    made = []
    for restrictions, *components in elements:
        element: dict[str, object] = {"price_components": [_component(*c) for c in components]}
        if restrictions is not None:
            element["restrictions"] = restrictions
        made.append(element)
    return {"currency": "EUR", "elements": made, **fields}


def _component(kind: str, price: object, step_size: int = 1, vat: object = None) -> dict[str, object]:
    component: dict[str, object] = {"type": kind, "price": price, "step_size": step_size}
    return component if vat is None else {**component, "vat": vat}


@pytest.fixture
def tariff_document() -> Callable[..., dict[str, object]]:
    return document


@pytest.fixture
def tariff() -> Callable[..., Tariff]:
    return lambda *elements, **fields: parse_tariff(document(*elements, **fields))


@pytest.fixture
def quote() -> Quote:
    """Price `(kind, minutes, kWh, more fields)` segments from a local start in Amsterdam."""

    def priced(
        tariff_doc: dict[str, object],
        *segments: tuple[Any, ...],
        start: str = "2024-01-15T12:00:00",
        zone: str = "Europe/Amsterdam",
        **session: object,
    ) -> dict[str, Any]:
        listed = [
            {"kind": kind, "duration_s": minutes * 60, "energy_kwh": kwh, **(more[0] if more else {})}
            for kind, minutes, kwh, *more in segments
        ]
        return price_document(
            tariff_doc, {"start_local": start, "time_zone": zone, "segments": listed, **session}
        )

    return priced


@pytest.fixture
async def yard(database: Database) -> Database:
    """A database with Weavers' Yard in it."""
    await build_yard(database)
    return database
