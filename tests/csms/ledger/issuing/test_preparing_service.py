"""What issuing would write, worked out without writing."""

from datetime import UTC, datetime

from csms.ledger.period import Month
from tests.csms.ledger.small_yard import SITE, SmallYard


async def test_a_month_is_prepared_with_its_head_texts_and_proof(small: SmallYard) -> None:
    await small.january()
    preparing = small.ledger.issuing._preparing
    site = await small.central.sites.get_site(SITE)
    now = datetime(2026, 2, 3, 11, tzinfo=UTC)
    async with small.central.database.read() as connection:
        prepared = await preparing.prepare(connection, site, Month(2026, 1), now, None)
        again = await preparing.prepare(connection, site, Month(2026, 1), now, None)
        assert (await preparing.terms(connection, SITE)).series == "Y"
    assert prepared.failed == ()
    assert (prepared.head.last_entry, prepared.head.runs, prepared.head.number) == (0, 0, 0)
    assert [each.hash for each in prepared.texts] == [each.hash for each in again.texts]
    assert prepared.draft.bodies == again.draft.bodies
    assert list(prepared.seen) == ["2026-01"]
    assert (prepared.credits, prepared.anew) == ((), ())


async def test_nothing_late_means_no_corrections_and_something_late_does(small: SmallYard) -> None:
    await small.january()
    await small.ledger.issuing.issue(SITE, "2026-01")
    small.at(datetime(2026, 3, 3, 11, tzinfo=UTC))
    calm = await small.ledger.issuing.preview(SITE, "2026-02")
    assert all(statement.lines == () for statement in calm.statements)
    await small.pool("late", 700, month=1)
    late = await small.ledger.issuing.preview(SITE, "2026-02")
    nets = {s.recipient.member_id: s.net_minor for s in late.statements}
    assert nets == {"a": 140, "b": 420}
    told = [line.arguments for line in late.statements[0].lines]
    assert told == [{"period": "2026-01", "of": "pool_share", "name": "Late", "reason": "late_data"}]
    await small.ledger.pools.delete("late")
    assert all(s.lines == () for s in (await small.ledger.issuing.preview(SITE, "2026-02")).statements)
