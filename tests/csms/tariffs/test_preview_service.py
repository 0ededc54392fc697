"""An imagined session with a member's discount; the rest is in tests/api/v1/test_tariffs."""

from collections.abc import Callable
from decimal import Decimal

import pytest

from csms.access.groups.service import GroupsService
from csms.clock import ManualClock
from csms.errors import InvalidInput, NotFound
from csms.store.database import Database
from csms.tariffs.market.service import MarketService
from csms.tariffs.preview_service import Preview
from csms.tariffs.service import TariffsService
from tests.csms.yard import FLAT_7, FLAT_12, RESIDENTS, SITE

SESSION = {
    "start_local": "2026-11-02T12:00:00",
    "time_zone": "Europe/Brussels",
    "segments": [{"kind": "CHARGING", "duration_s": 3600, "energy_kwh": 10}],
}


async def test_who_would_pay_counts(
    yard: Database, clock: ManualClock, tariff_document: Callable[..., dict[str, object]]
) -> None:
    tariffs = TariffsService(yard, clock)
    preview = Preview(tariffs, MarketService(yard, clock), GroupsService(yard, clock))
    off = {"type": "DISCOUNT", "name": "Residents", "percent": 10, "groups": [RESIDENTS]}
    own = {"components": [off]}
    document = tariff_document((None, ("ENERGY", Decimal("0.50"), 1, 25)), phaseyard=own)
    kept = await tariffs.create(site_id=SITE, name="Yard", document=document)
    for member_id, total in ((FLAT_12, "4.50"), (FLAT_7, "5.00"), (None, "5.00")):
        quote = await preview.quote(session=SESSION, tariff_id=kept.id, member_id=member_id)
        assert quote["total_excl_vat"] == total
        assert quote == await preview.quote(session=SESSION, document=document, member_id=member_id)
    with pytest.raises(InvalidInput, match="tariff_id: give either"):
        await preview.quote(session=SESSION)
    with pytest.raises(NotFound):
        await preview.quote(session=SESSION, tariff_id="none")
    with pytest.raises(InvalidInput, match=r"session\.segments: missing"):
        await preview.quote(session={**SESSION, "segments": None}, tariff_id=kept.id)
