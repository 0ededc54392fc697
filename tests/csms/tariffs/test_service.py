"""Tariffs by their service, on both databases."""

from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import insert, update

from csms.clock import ManualClock
from csms.errors import Conflict, InvalidInput, NotFound
from csms.store.database import Database
from csms.store.tables.sessions import session
from csms.store.tables.sites import site
from csms.tariffs.assignment import Occasion
from csms.tariffs.market.service import MarketService
from csms.tariffs.service import TariffsService
from tests.conftest import NOON
from tests.csms.yard import BAY_1, BAY_2, ELSEWHERE, RESIDENTS, SITE, facts

Document = Callable[..., dict[str, object]]
DAY = timedelta(days=1)


@pytest.fixture
def tariffs(yard: Database, clock: ManualClock) -> TariffsService:
    return TariffsService(yard, clock)


@pytest.fixture
def energy(tariff_document: Document) -> Callable[[str], dict[str, object]]:
    """A price per kWh, VAT 20 %."""
    return lambda price: tariff_document((None, ("ENERGY", Decimal(price), 1, 20)))


async def priced_session(database: Database, tariff_id: str, started_at: datetime) -> None:
    async with database.write() as connection:
        await connection.execute(
            insert(session).values(
                station_id=BAY_1,
                site_id=SITE,
                state="ended",
                started_at=started_at,
                arrived_at=started_at,
                marks={},
                tariff_id=tariff_id,
            )
        )


async def test_a_tariff_is_created_listed_and_deleted(
    tariffs: TariffsService, yard: Database, energy: Callable[[str], dict[str, object]]
) -> None:
    made = await tariffs.create(site_id=SITE, name=" Yard 2026 ", document=energy("0.25"))
    assert made.name == "Yard 2026"
    assert await tariffs.get(made.id) == made
    assert (await tariffs.list(site_id=SITE)).items == (made,)
    assert (await tariffs.list(site_id="mill")).items == ()
    await tariffs.delete(made.id)
    with pytest.raises(NotFound):
        await tariffs.get(made.id)
    assert [fact.topic for fact in await facts(yard, "tariff.")] == ["tariff.created", "tariff.deleted"]


async def test_a_tariff_is_never_replaced(
    tariffs: TariffsService, energy: Callable[[str], dict[str, object]]
) -> None:
    made = await tariffs.create(site_id=SITE, name="A", document=energy("0.25"), id="yard")
    with pytest.raises(Conflict, match="never edited"):
        await tariffs.create(site_id=SITE, name="B", document=energy("0.30"), id="yard")
    assert await tariffs.get("yard") == made


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"site_id": "moon"}, "site_id"),
        ({"name": " "}, "name"),
        ({"id": "With Blanks"}, "id"),
        ({"document": {"currency": "EUR"}}, "document.elements"),
        ({"document": []}, "document"),
    ],
)
async def test_what_is_wrong_is_named(
    tariffs: TariffsService, energy: Callable[[str], dict[str, object]], wrong: dict[str, Any], field: str
) -> None:
    with pytest.raises(InvalidInput) as refused:
        await tariffs.create(**{"site_id": SITE, "name": "Yard", "document": energy("0.25"), **wrong})
    assert refused.value.field == field


async def test_floats_and_foreign_currencies_are_refused(
    tariffs: TariffsService, tariff_document: Document
) -> None:
    for document, field in (
        (tariff_document((None, ("ENERGY", 0.1))), "document.elements[0].price_components[0].price"),
        (tariff_document((None, ("FLAT", 1)), currency="NOK"), "document.currency"),
    ):
        with pytest.raises(InvalidInput) as refused:
            await tariffs.create(site_id=SITE, name="Yard", document=document)
        assert refused.value.field == field


async def test_the_most_specific_assignment_wins_and_a_later_one_takes_over(
    tariffs: TariffsService, energy: Callable[[str], dict[str, object]]
) -> None:
    everyone, residents, guests, dearer = [
        await tariffs.create(site_id=SITE, name=price, document=energy(price))
        for price in ("0.40", "0.25", "0.60", "0.45")
    ]

    async def chosen(at: datetime, **who: Any) -> str | None:
        found = await tariffs.tariff_for(
            Occasion(start=at, **{"site_id": SITE, "station_id": BAY_2, "guest": False, **who})
        )
        assert found.reason
        return None if found.tariff is None else found.tariff.name

    assert await chosen(NOON) is None
    await tariffs.assign(everyone.id, site_id=SITE)
    await tariffs.assign(residents.id, site_id=SITE, group_id=RESIDENTS)
    await tariffs.assign(guests.id, site_id=SITE, guests=True)
    await tariffs.assign(dearer.id, site_id=SITE, valid_from=NOON + DAY)
    assert await chosen(NOON) == "0.40"
    assert await chosen(NOON, group_ids=frozenset({RESIDENTS})) == "0.25"
    assert await chosen(NOON, guest=True) == "0.60"
    assert await chosen(NOON + DAY - timedelta(microseconds=1)) == "0.40"
    assert await chosen(NOON + DAY) == "0.45"
    assert await chosen(NOON, site_id="mill", station_id=ELSEWHERE) is None
    found = await tariffs.tariff_for(Occasion(start=NOON, site_id=SITE, station_id=BAY_1, guest=True))
    assert found.tariff == guests
    assert found.assignment is not None
    assert found.assignment.guests
    assert "guests at site weavers-yard" in found.reason


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"site_id": "mill"}, "site_id"),
        ({"station_id": ELSEWHERE}, "station_id"),
        ({"station_id": "none"}, "station_id"),
        ({"group_id": "none"}, "group_id"),
        ({"group_id": RESIDENTS, "guests": True}, "guests"),
        ({"valid_from": NOON, "valid_to": NOON}, "valid_to"),
        ({"valid_from": NOON.replace(tzinfo=None)}, "valid_from"),
        ({"id": "No Id"}, "id"),
    ],
)
async def test_a_wrong_assignment_is_named(
    tariffs: TariffsService, energy: Callable[[str], dict[str, object]], wrong: dict[str, Any], field: str
) -> None:
    made = await tariffs.create(site_id=SITE, name="Yard", document=energy("0.25"))
    with pytest.raises(InvalidInput) as refused:
        await tariffs.assign(made.id, **{"site_id": SITE, **wrong})
    assert refused.value.field == field
    assert (await tariffs.list_assignments(site_id=SITE)).items == ()
    with pytest.raises(NotFound):
        await tariffs.assign("none", site_id=SITE)


async def test_an_assignment_is_made_once_and_ended(
    tariffs: TariffsService, yard: Database, energy: Callable[[str], dict[str, object]]
) -> None:
    made = await tariffs.create(site_id=SITE, name="Yard", document=energy("0.25"))
    first = await tariffs.assign(made.id, site_id=SITE, valid_from=NOON)
    assert await tariffs.assign(made.id, site_id=SITE, valid_from=NOON) == first
    assert (await tariffs.list_assignments(tariff_id=made.id)).items == (first,)
    with pytest.raises(Conflict, match="1 assignments"):
        await tariffs.delete(made.id)
    ended = await tariffs.unassign(first.id, NOON + DAY)
    assert ended is not None
    assert ended.valid_until == NOON + DAY
    assert await tariffs.get_assignment(first.id) == ended
    assert await tariffs.unassign(first.id, NOON + 2 * DAY) == ended
    # One that never began leaves nothing behind.
    assert await tariffs.unassign(first.id, NOON) is None
    with pytest.raises(NotFound):
        await tariffs.unassign(first.id)
    await tariffs.delete(made.id)
    told = await facts(yard, "tariff.assigned")
    assert [fact.body for fact in told] == [
        {"tariff": "Yard", "for": "anyone at site weavers-yard", "until": None}
    ]


async def test_what_has_priced_something_stays(
    tariffs: TariffsService, yard: Database, energy: Callable[[str], dict[str, object]]
) -> None:
    made = await tariffs.create(site_id=SITE, name="Yard", document=energy("0.25"))
    assigned = await tariffs.assign(made.id, site_id=SITE)
    await priced_session(yard, made.id, NOON)
    with pytest.raises(Conflict, match="1 sessions"):
        await tariffs.unassign(assigned.id, NOON)
    assert await tariffs.unassign(assigned.id, NOON + timedelta(seconds=1)) is not None
    with pytest.raises(Conflict, match="1 assignments and 1 priced sessions"):
        await tariffs.delete(made.id)


NOT_THERE: tuple[tuple[dict[str, object], str, str], ...] = (
    ({"type": "SPOT", "feed": "none"}, "components[0].feed", "there is no price feed 'none'"),
    ({"type": "SPOT", "feed": "se"}, "components[0].feed", "is in SEK, but the tariff is in EUR"),
    (
        {"type": "DISCOUNT", "name": "x", "percent": 5, "groups": [RESIDENTS, "nobody"]},
        "components[0].groups",
        "there is no group 'nobody' on site",
    ),
    (
        {"type": "CAP", "name": "x", "amount": 5, "per": "MONTH", "members": ["nobody"]},
        "components[0].members",
        "there is no member 'nobody' on site",
    ),
    ({"type": "MONTHLY_FEE", "name": "x", "amount": 5}, "components[0].vat", "missing, and other prices"),
    ({"type": "PIGEON"}, "components[0].type", "must be one of SPOT, MONTHLY_FEE"),
)


async def test_what_our_own_components_name_exists(
    tariffs: TariffsService, yard: Database, clock: ManualClock, energy: Callable[[str], dict[str, object]]
) -> None:
    await MarketService(yard, clock).create_feed(id="se", name="South", currency="SEK")
    for component, field, problem in NOT_THERE:
        document = {**energy("0.25"), "phaseyard": {"components": [component]}}
        with pytest.raises(InvalidInput) as refused:
            await tariffs.create(site_id=SITE, name="Yard", document=document)
        assert refused.value.field == f"document.phaseyard.{field}"
        assert refused.value.problem.startswith(problem)
    assert (await tariffs.list(site_id=SITE)).items == ()


async def test_a_site_billed_in_another_currency_gets_no_tariff_assigned(
    tariffs: TariffsService, yard: Database, energy: Callable[[str], dict[str, object]]
) -> None:
    made = await tariffs.create(site_id=SITE, name="Yard", document=energy("0.25"))
    async with yard.write() as connection:
        await connection.execute(update(site).values(currency="SEK"))
    with pytest.raises(InvalidInput, match="site_id: is billed in SEK, but tariff Yard is in EUR"):
        await tariffs.assign(made.id, site_id=SITE)
