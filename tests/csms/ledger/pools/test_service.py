"""Invoices and supply registers by their service, on both databases."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from csms.errors import Conflict, InvalidInput, NotFound
from csms.ledger.pool import Key
from tests.csms.ledger.small_yard import SITE, SmallYard

JANUARY = datetime(2025, 12, 31, 23, tzinfo=UTC)


async def test_an_invoice_is_kept_changed_and_removed(small: SmallYard) -> None:
    pools = small.ledger.pools
    await small.pool("grid", 1000)
    made = await pools.get("grid")
    assert (made.amount_minor, made.key, made.months()[0].month) == (1000, Key.KWH, 1)
    changed = await pools.change("grid", replace(made, amount_minor=2000, vat_minor=500, key=Key.EQUAL))
    assert await pools.get("grid") == changed
    assert (await pools.list(site_id=SITE)).items == (changed,)
    with pytest.raises(Conflict, match="there is a pool 'grid' already"):
        await small.pool("grid", 1)
    await pools.delete("grid")
    with pytest.raises(NotFound):
        await pools.get("grid")


async def test_a_wrong_invoice_names_its_field_and_leaves_nothing(small: SmallYard) -> None:
    values: dict[str, Any] = {
        "site_id": SITE,
        "name": "Grid",
        "amount_minor": 100,
        "vat_minor": 25,
        "vat_percent": Decimal(25),
        "currency": "NOK",
        "period_start": date(2026, 1, 1),
        "period_end": date(2026, 2, 1),
        "key": Key.KWH,
    }
    for field, wrong in (
        ("currency", "XYZ"),
        ("currency", "EUR"),
        ("vat_percent", None),
        ("period_start", date(2025, 1, 1)),
        ("period_end", date(2026, 1, 1)),
        ("site_id", "moon"),
    ):
        with pytest.raises(InvalidInput) as refused:
            await small.ledger.pools.create(**values | {field: wrong})
        assert refused.value.field == field
    assert (await small.ledger.pools.list()).items == ()


async def test_registers_of_the_main_meter(small: SmallYard) -> None:
    pools = small.ledger.pools
    first = await pools.add_register(site_id=SITE, serial=" EV-1 ", at=JANUARY, register_wh=500, id="r1")
    assert first.serial == "EV-1"
    assert await pools.get_register("r1") == first
    with pytest.raises(InvalidInput, match="register_wh"):
        await pools.add_register(site_id=SITE, serial="EV-1", at=JANUARY + timedelta(days=1), register_wh=499)
    with pytest.raises(InvalidInput, match="at: needs a time zone"):
        await pools.add_register(site_id=SITE, serial="EV-1", at=datetime(2026, 1, 1), register_wh=1)  # noqa: DTZ001
    with pytest.raises(InvalidInput, match="site_id"):
        await pools.add_register(site_id="moon", serial="EV-1", at=JANUARY, register_wh=1)
    assert (await pools.list_registers(site_id=SITE)).items == (first,)
    await pools.delete_register("r1")
    with pytest.raises(NotFound):
        await pools.get_register("r1")
