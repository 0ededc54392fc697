"""A month read in bulk, on both databases."""

from datetime import UTC, date, datetime

from csms.ledger.inputs import GUESTS
from csms.ledger.period import Month
from tests.csms.ledger.small_yard import SITE, SmallYard

JANUARY = Month(2026, 1)


async def test_a_month_is_put_together_with_owners_places_and_invoices(small: SmallYard) -> None:
    await small.january()
    site = await small.central.sites.get_site(SITE)
    gathering = small.ledger.issuing._preparing._gathering
    async with small.central.database.read() as connection:
        found = await gathering.gather(connection, site, JANUARY, small.clock.now())
    inputs = found.inputs
    assert [(p.account, p.energy_wh, p.token) for p in inputs.parts] == [
        ("a", 10_000, "CARD-a"),
        ("b", 30_000, "CARD-b"),
        (GUESTS, 10_000, ""),
    ]
    assert [(m.member_id, m.spaces, m.space_days) for m in inputs.members] == [("a", 1, 31), ("b", 1, 31)]
    assert [(pool.id, pool.amount_minor) for pool in inputs.pools] == [("grid", 1001)]
    assert [each.booked_minor for each in found.assembled.repriced] == [2000, 6000, 2000]
    assert found.spaces == {"space bay-a/1 of a": "a", "space bay-b/1 of b": "b"}
    assert (found.supply, found.supply_problem) == (None, "")


async def test_an_overnight_session_is_read_at_midnight(small: SmallYard) -> None:
    midnight = datetime(2026, 1, 31, 23, tzinfo=UTC)
    await small.charge("a", datetime(2026, 1, 31, 21, tzinfo=UTC), 21_000, hours=4, told=[(midnight, 12_400)])
    site = await small.central.sites.get_site(SITE)
    gathering = small.ledger.issuing._preparing._gathering
    async with small.central.database.read() as connection:
        january = await gathering.gather(connection, site, JANUARY, midnight)
        february = await gathering.gather(connection, site, Month(2026, 2), midnight)
    (first,), (second,) = january.inputs.parts, february.inputs.parts
    assert (first.energy_wh, second.energy_wh) == (12_400, 8_600)
    assert [day.day for day in second.days] == [date(2026, 2, 1)]
    assert [c.sessions for c in january.assembled.chains] == [1]


async def test_the_signature_changes_with_whatever_a_statement_depends_on(small: SmallYard) -> None:
    await small.january()
    site = await small.central.sites.get_site(SITE)
    gathering = small.ledger.issuing._preparing._gathering

    async def signature(month: Month = JANUARY) -> str:
        async with small.central.database.read() as connection:
            return await gathering.signature(connection, site, month)

    seen = [await signature()]
    assert await signature() == seen[0]
    await small.pool("more", 1)
    seen.append(await signature())
    await small.charge("a", datetime(2026, 1, 20, tzinfo=UTC), 1)
    seen.append(await signature())
    await small.central.ownerships.end("own-a", datetime(2026, 1, 10, tzinfo=UTC))
    seen.append(await signature())
    assert len(set(seen)) == 4
    await small.central.ownerships.end("own-b", datetime(2026, 2, 10, tzinfo=UTC))
    assert await signature() == seen[-1], "what changes later is none of January's business"
