"""Sources on their schedule: what is new comes in, what is wrong stays to be seen."""

from collections.abc import Callable
from pathlib import Path

import pytest

from csms.clock import ManualClock
from csms.errors import Conflict
from csms.store.database import Database
from csms.tariffs.market.service import MarketService
from csms.tariffs.market.watch_service import PriceWatch

MakeDay = Callable[..., bytes]
BOUNDS = ("2026-01-14T23:00Z", "2026-01-15T23:00Z")


@pytest.fixture
async def market(database: Database, clock: ManualClock) -> MarketService:
    service = MarketService(database, clock)
    source = {"kind": "folder", "path": "mill"}
    await service.create_feed(id="mill", name="Mill", currency="EUR", source=source)
    await service.create_feed(id="sent", name="Sent", currency="EUR")
    return service


async def test_a_folder_on_its_schedule(
    market: MarketService, clock: ManualClock, day: MakeDay, tmp_path: Path
) -> None:
    watch = PriceWatch(market, clock, tmp_path)

    async def fault() -> str:
        await watch.check_due()
        return (await market.get_feed("mill")).fault

    assert "cannot read mill in the folder of prices" in await fault()
    folder = tmp_path / "prices" / "mill"
    folder.mkdir(parents=True)
    (folder / "good.xml").write_bytes(day(*BOUNDS, ["1"] * 96))
    assert await fault() != "", "its time has not come"
    clock.advance(61)
    assert await fault() == ""
    assert len((await market.documents("mill")).items) == 1
    (folder / "bad.xml").write_bytes(day(*BOUNDS, ["1"] * 95, mrid="M2"))
    for _ in range(2):
        clock.advance(61)
        assert (await fault()).startswith("bad.xml: line "), "as long as it lies there"
    (folder / "bad.xml").unlink()
    clock.advance(61)
    assert await fault() == ""
    assert (await market.get_feed("sent")).checked_at is None


async def test_asked_by_hand(market: MarketService, clock: ManualClock, day: MakeDay, tmp_path: Path) -> None:
    watch = PriceWatch(market, clock, tmp_path)
    folder = tmp_path / "prices" / "mill"
    folder.mkdir(parents=True)
    (folder / "good.xml").write_bytes(day(*BOUNDS, ["1"] * 96))
    assert (await watch.check("mill")).fault == ""
    assert [document.name for document in (await market.documents("mill")).items] == ["good.xml"]
    with pytest.raises(Conflict, match="feed Sent has no source"):
        await watch.check("sent")


async def test_the_loop_looks_and_ends(market: MarketService, clock: ManualClock, tmp_path: Path) -> None:
    watch = PriceWatch(market, clock, tmp_path)
    watch.start()
    while (await market.get_feed("mill")).checked_at is None:
        await clock.sleep(0)
    await watch.stop()
    assert (await market.get_feed("mill")).fault
