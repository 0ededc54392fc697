"""Terms and addresses by their service, on both databases."""

from dataclasses import replace

import pytest

from csms.errors import InvalidInput, NotFound
from tests.csms.ledger.small_yard import SITE, TERMS, SmallYard


async def test_terms_are_kept_and_changed(small: SmallYard) -> None:
    billing = small.ledger.billing
    assert await billing.terms(SITE) == TERMS
    changed = replace(TERMS, due_days=30)
    assert await billing.set_terms(SITE, changed) == changed
    assert await billing.terms(SITE) == changed
    with pytest.raises(InvalidInput, match="series"):
        await billing.set_terms(SITE, replace(TERMS, series=""))
    for work in (billing.set_terms("moon", TERMS), billing.terms("moon")):
        with pytest.raises(NotFound):
            await work
    await small.central.sites.create_site(
        id="mill",
        name="Mill",
        time_zone="Europe/Oslo",
        currency="NOK",
        system=(await small.central.sites.get_site(SITE)).system,
    )
    with pytest.raises(NotFound, match="billing terms of site mill"):
        await billing.terms("mill")


async def test_addresses_are_kept_with_their_language(small: SmallYard) -> None:
    billing = small.ledger.billing
    assert await billing.address("a") == ((), "")
    assert await billing.set_address("a", (" Mill Lane 1 ", ""), "nb") == (("Mill Lane 1",), "nb")
    assert await billing.address("a") == (("Mill Lane 1",), "nb")
    await billing.set_address("a", ("Mill Lane 2",))
    assert await billing.address("a") == (("Mill Lane 2",), "")
    with pytest.raises(InvalidInput, match="language"):
        await billing.set_address("a", (), "norsk")
    for work in (billing.set_address("nobody", ()), billing.address("nobody")):
        with pytest.raises(NotFound):
            await work
