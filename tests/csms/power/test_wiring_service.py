"""A car is stepped, the building's meter listens, and the result is kept."""

import asyncio
from collections.abc import AsyncIterator
from datetime import timedelta

import pytest
from sqlalchemy import insert

from csms.app import Central
from csms.clock import ManualClock
from csms.errors import Conflict
from csms.power.installation import LINES, Line
from csms.power.wiring_service import HOLD_S, HOLDS, Heard, WiringChecks
from csms.sessions.session import Session
from csms.settings import Settings
from csms.sites.model import CircuitMeter, MeterCounts, System
from csms.stations.model import PerLine
from csms.store.tables.sessions import session as sessions
from tests.conftest import NOON


class Bench:
    """A car on one line that draws what it may, and a meter on the supply that sees it."""

    def __init__(self, wired: Line) -> None:
        self.wired = wired
        self.may_a = 32.0
        self.asked: list[float | None] = []
        self._calls: list[Heard] = []

    def on_circuit_reading(self, call: Heard) -> None:
        self._calls.append(call)

    async def limit_car(self, session: Session, max_a: float | None) -> None:
        self.asked.append(max_a)
        self.may_a = 32.0 if max_a is None else max_a

    def measured(self, session: Session) -> PerLine:
        return (self.may_a, 0.0, 0.0)

    def meter(self, clock: ManualClock, circuit: str = "main") -> None:
        line_a = {line: 10.0 + (self.may_a if line is self.wired else 0.0) for line in LINES}
        for call in self._calls:
            call(circuit, line_a, clock.now())


@pytest.fixture
async def central(database_url: str, clock: ManualClock) -> AsyncIterator[Central]:
    """An active site, whose supply's meter counts the total; a car charges at B1."""
    made = Central(Settings(database_url=database_url), clock)
    await made.database.open()
    await made.sites.create_site(
        id="yard", name="Yard", time_zone="Europe/Oslo", currency="EUR", system=System.TN_400
    )
    await made.sites.create_circuit(
        "yard",
        id="main",
        name="Supply",
        fed_from=None,
        limit_a=(63, 63, 63),
        meter=CircuitMeter(MeterCounts.TOTAL, 2.0),
    )
    for number in (1, 2):
        await made.stations.create(id=f"B{number}", site_id="yard", circuit_id="main", max_current_a=16)
    await made.sites.set_active("yard", True)
    async with made.database.write() as connection:
        await connection.execute(
            insert(sessions).values(
                station_id="B1",
                site_id="yard",
                evse=1,
                state="charging",
                charging="charging",
                started_at=NOON - timedelta(hours=1),
                arrived_at=NOON,
                marks=[],
            )
        )
    yield made
    await made.power.stop()
    await made.tasks.close()
    await made.database.close()


def checks(central: Central, bench: Bench) -> WiringChecks:
    return WiringChecks(
        central.clock,
        power=bench,
        sites=central.sites,
        stations=central.stations,
        sessions=central.sessions,
        tasks=central.tasks,
    )


async def play(clock: ManualClock, bench: Bench, checks: WiringChecks) -> dict[str, object]:
    """Let time go by until the check is done."""
    for _ in range(int(HOLDS * HOLD_S / 2)):
        for _ in range(3):
            await asyncio.sleep(0)
        bench.meter(clock)
        clock.advance(2.0)
    for _ in range(1_000):  # the result is being written down
        if not (await checks.result("B1"))[0]:
            break
        await asyncio.sleep(0)
    found = (await checks.result("B1"))[1]
    assert found is not None
    return found


@pytest.mark.parametrize(("wired", "verdict"), [(Line.L1, "as configured"), (Line.L3, "differs")])
async def test_the_line_that_moves_is_told_and_kept(
    central: Central, clock: ManualClock, wired: Line, verdict: str
) -> None:
    bench = Bench(wired)
    running = checks(central, bench)
    assert await running.result("B1") == (False, None)
    await running.start("B1")
    assert (await running.result("B1"))[0]
    with pytest.raises(Conflict, match="is running"):
        await running.start("B1")
    found = await play(clock, bench, running)
    assert (found["verdict"], found["circuit_id"], found["confidence"]) == (verdict, "main", 1.0)
    assert found["lines"] == [
        {
            "station_line": "L1",
            "configured": "L1",
            "found": wired.value,
            "gains": {line.value: 1.0 if line is wired else 0.0 for line in LINES},
            "steps": HOLDS - 1,
        }
    ]
    # The car was stepped between the least and the station's highest, and let go at the end.
    assert bench.asked == [6.0, 16.0, 6.0, 16.0, 6.0, 16.0, None]


async def test_what_a_check_needs(central: Central) -> None:
    running = checks(central, Bench(Line.L1))
    with pytest.raises(Conflict, match="one car must be charging at station B2, and there are 0"):
        await running.start("B2")
    await central.stations.create(id="loose")
    with pytest.raises(Conflict, match="has no place yet"):
        await running.start("loose")
    await central.sites.update_circuit("main", meter=CircuitMeter(MeterCounts.BASE, 2.0))
    with pytest.raises(Conflict, match="no meter above station B1 counts the total"):
        await running.start("B1")
    await central.sites.set_active("yard", False)
    with pytest.raises(Conflict, match="is not active"):
        await running.start("B1")
    assert await running.result("B1") == (False, None)


async def test_a_cars_maximum_reaches_the_controller_and_leaves_it(central: Central) -> None:
    """The real power service: what the check asks for is the car's maximum in the allocation."""
    await central.power.start()
    (session,) = await central.sessions.open_sessions("yard")
    controller = central.power._controllers["yard"][0]
    (evse,) = (evse for evse in controller.state.bays if evse.station_id == "B1")
    heard: list[tuple[str, dict[Line, float]]] = []
    central.power.on_circuit_reading(lambda circuit, line_a, _at: heard.append((circuit, dict(line_a))))
    for max_a in (6.0, 16.0, None):
        await central.power.limit_car(session, max_a)
        charge = controller.state.bays[evse].charge
        assert charge is not None
        assert charge.max_a == max_a
    assert central.power.measured(session) == (None, None, None)
    await central.power.circuit_reading(await central.sites.get_circuit("main"), {Line.L1: 9.0}, NOON)
    assert heard == [("main", {Line.L1: 9.0})]
