"""The base load by the quarter: the highest is kept, and a meter's history is taken over once."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from csms.metering.building import LineReading
from csms.power.installation import LINES, Circuit, Installation, System
from csms.power.planner import repository
from csms.power.planner.base_service import BaseLoads
from csms.power.steering.base_load import BuildingMeter, BuildingReading, Counts
from csms.power.steering.state import SiteState, new_site
from csms.sites.model import Circuit as CircuitRecord
from tests.conftest import NOON

NOON_S = NOON.timestamp()


def state(counts: Counts = Counts.BASE) -> SiteState:
    site = Installation(
        system=System.TN_400, circuits=(Circuit(id="main", limit_a=dict.fromkeys(LINES, 32.0)),)
    )
    return new_site(site, {"main": BuildingMeter(counts, period_s=60.0)})


def measured(made: SiteState, at_s: float, *amps: float) -> SiteState:
    return replace(made, readings={"main": BuildingReading(dict(zip(LINES, amps, strict=True)), at_s)})


class Meters:
    """A meter that has told 7 A on L1 every five minutes of the last day, and 9 A once."""

    def __init__(self) -> None:
        self.asked = 0

    async def history(
        self, circuit: CircuitRecord, since: datetime, until: datetime
    ) -> Sequence[LineReading]:
        self.asked += 1
        assert circuit.id == "main"
        found = []
        for back in range(1, 288):
            at = NOON - timedelta(minutes=5 * back)
            if since <= at < until:
                found.append(LineReading(at, (9.0 if back == 2 else 7.0, 1.0, None)))
        return found


async def test_the_highest_of_a_quarter_is_written_when_it_is_over(world: Any) -> None:
    database = world.central.database
    base = BaseLoads(database, world.central.sites, Meters())
    for minute, amps in ((0, 5.0), (7, 9.0), (14, 6.0)):
        at_s = NOON_S + 60 * minute
        now = NOON + timedelta(minutes=minute)
        assert not await base.seen("yard", measured(state(), at_s, amps, 1.0, 2.0), at_s, now)
    stale = measured(state(), NOON_S, 30.0, 30.0, 30.0)
    assert not await base.seen("yard", stale, NOON_S + 890, NOON + timedelta(minutes=14, seconds=50))
    later = NOON + timedelta(minutes=15)
    assert await base.seen("yard", state(), later.timestamp(), later)
    async with database.read() as connection:
        (kept,) = await repository.get_base(connection, ["main"], NOON)
    assert (kept.at, kept.line_a) == (NOON, (9.0, 1.0, 2.0))


async def test_the_history_of_a_meter_of_the_building_alone_is_taken_over_once(world: Any) -> None:
    meters = Meters()
    base = BaseLoads(world.central.database, world.central.sites, meters)
    found = await base.samples("yard", state(), NOON)
    assert len(found) == 96
    assert {sample.line_a[0] for sample in found} == {7.0, 9.0}
    assert next(s for s in found if s.line_a[0] == 9.0).at == NOON - timedelta(minutes=15)
    assert {sample.line_a[2] for sample in found} == {0.0}, "its configured base load, as nobody measured it"
    asked = meters.asked
    assert await base.samples("yard", state(), NOON + timedelta(hours=1)) == found
    again = BaseLoads(world.central.database, world.central.sites, meters)
    assert sorted(await again.samples("yard", state(), NOON), key=lambda s: s.at) == sorted(
        found, key=lambda s: s.at
    )
    assert meters.asked == asked


async def test_a_total_has_no_history_of_the_building(world: Any) -> None:
    meters = Meters()
    base = BaseLoads(world.central.database, world.central.sites, meters)
    assert await base.samples("yard", state(Counts.TOTAL), NOON) == []
    assert meters.asked == 0
