"""Documents are taken in whole or not at all; corrections supersede and leave what was."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from csms.clock import ManualClock
from csms.errors import Conflict, InvalidInput, NotFound
from csms.store.database import Database
from csms.tariffs.market.series import Gap
from csms.tariffs.market.service import MarketService, check_look
from tests.csms.yard import facts

MakeDay = Callable[..., bytes]
DAY = datetime(2026, 1, 14, 23, tzinfo=UTC)
BOUNDS = ("2026-01-14T23:00Z", "2026-01-15T23:00Z")


@pytest.fixture
async def market(database: Database, clock: ManualClock) -> MarketService:
    service = MarketService(database, clock)
    await service.create_feed(id="mill", name="The mill's", currency="EUR")
    return service


async def per_mwh(market: MarketService, at: datetime, **known: Any) -> Decimal | None:
    found = (await market.series("mill", at, at + timedelta(minutes=1), **known)).at(at)
    return None if found is None else found.per_mwh


async def test_a_day_and_its_correction(
    market: MarketService, database: Database, clock: ManualClock, day: MakeDay
) -> None:
    raw = day(*BOUNDS, [f"{i}.50" for i in range(96)])
    taken = await market.take_in("mill", raw, "15 January.xml")
    assert taken.new
    assert await per_mwh(market, DAY) == Decimal("0.50")
    assert await per_mwh(market, DAY + timedelta(hours=23, minutes=59)) == Decimal("95.50")
    again = await market.take_in("mill", raw, "a copy.xml")
    assert (again.new, again.document) == (False, taken.document)
    before = clock.now()
    clock.advance(60)
    corrected = await market.take_in("mill", day(*BOUNDS, ["-3"] * 96, revision=2), "15 January, 2.xml")
    assert await per_mwh(market, DAY) == -3
    assert await per_mwh(market, DAY, known_at=before) == Decimal("0.50")
    assert await market.raw(taken.document.id) == raw
    assert [document.revision for document in (await market.documents("mill")).items] == [2, 1]
    assert await market.document(corrected.document.id) == corrected.document
    told = [fact.body for fact in await facts(database, "prices.stored")]
    assert told == [
        {
            "feed": "The mill's",
            "document": document.id,
            "revision": document.revision,
            "start": "2026-01-14T23:00:00+00:00",
            "end": "2026-01-15T23:00:00+00:00",
            "prices": 96,
            "corrects": document.revision == 2,
        }
        for document in (taken.document, corrected.document)
    ]


async def test_the_same_revision_with_other_content_is_refused(market: MarketService, day: MakeDay) -> None:
    await market.take_in("mill", day(*BOUNDS, ["1"] * 96), "a")
    with pytest.raises(Conflict, match="document M1, revision 1, came before with other content"):
        await market.take_in("mill", day(*BOUNDS, ["2"] * 96), "b")
    assert await per_mwh(market, DAY) == 1


async def test_nothing_is_half_stored(market: MarketService, database: Database, day: MakeDay) -> None:
    """A day with a gap: the error names the place, and no price of it is there."""
    with pytest.raises(InvalidInput, match="curve A01 has no point at position 96 of 96"):
        await market.take_in("mill", day(*BOUNDS, ["1"] * 95), "short")
    assert (await market.documents("mill")).items == ()
    assert await per_mwh(market, DAY) is None
    assert await facts(database, "prices.") == []
    with pytest.raises(NotFound):
        await market.take_in("none", day(*BOUNDS, ["1"] * 96), "x")


async def test_gaps(market: MarketService, day: MakeDay) -> None:
    await market.take_in("mill", day(*BOUNDS, ["1"] * 96), "a")
    end = DAY + timedelta(days=1)
    assert await market.gaps("mill", DAY, end) == ()
    assert await market.gaps("mill", DAY - timedelta(hours=1), end + timedelta(hours=2)) == (
        Gap("mill", DAY - timedelta(hours=1), DAY),
        Gap("mill", end, end + timedelta(hours=2)),
    )
    both = await market.market(["mill", "mill"], DAY, DAY)
    assert [len(series.prices) for series in both.values()] == [1], "a session without length has a price too"
    check_look(DAY, end)
    for until, problem in (
        (DAY, "end: must be later than start"),
        (DAY + timedelta(400), "at most 370 days"),
    ):
        with pytest.raises(InvalidInput, match=problem):
            check_look(DAY, until)


async def test_a_source_that_fails_is_told_once_and_kept(
    market: MarketService, database: Database, clock: ManualClock
) -> None:
    first = await market.checked("mill", "it does not answer")
    clock.advance(300)
    second = await market.checked("mill", "it answers 500")
    assert (second.fault, second.fault_at, second.checked_at) == (
        "it answers 500",
        first.fault_at,
        clock.now(),
    )
    well = await market.checked("mill")
    assert (well.fault, well.fault_at) == ("", None)
    assert [(fact.topic, fact.body["fault"]) for fact in await facts(database, "prices.")] == [
        ("prices.failed", "it does not answer"),
        ("prices.recovered", "it answers 500"),
    ]


async def test_feeds_change_and_go(market: MarketService, day: MakeDay) -> None:
    source = {"kind": "folder", "path": "mill"}
    changed = await market.update_feed("mill", name="Mill", source=source, minutes=15)
    assert (changed.name, changed.source, changed.minutes) == ("Mill", source, 15)
    await market.checked("mill", "broken")
    assert (await market.update_feed("mill", name="Again")).fault == "broken"
    assert (await market.update_feed("mill", source=None)).fault == ""
    await market.create_feed(id="other", name="Other", currency="SEK")
    assert [feed.id for feed in (await market.list_feeds()).items] == ["mill", "other"]
    await market.take_in("mill", day(*BOUNDS, ["1"] * 96), "a")
    with pytest.raises(Conflict, match="feed Again has 1 documents, which stay"):
        await market.delete_feed("mill")
    await market.delete_feed("other")
    with pytest.raises(NotFound):
        await market.get_feed("other")


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"currency": "XXX"}, "currency"),
        ({"name": ""}, "name"),
        ({"minutes": 7}, "minutes"),
        ({"source": {"kind": "pigeon"}}, "source.kind"),
        ({"source": {"kind": "folder", "path": "../keys"}}, "source.path"),
    ],
)
async def test_a_feed_that_is_wrong_is_not_made(
    clock: ManualClock, tmp_path: Path, fields: dict[str, Any], field: str
) -> None:
    service = MarketService(Database(f"sqlite+aiosqlite:///{tmp_path}/never-opened.db"), clock)
    with pytest.raises(InvalidInput) as caught:
        await service.create_feed(**{"name": "Mill", "currency": "EUR", **fields})
    assert caught.value.field == field
