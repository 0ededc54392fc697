"""One meter over time, by a clock that stands still: silence, rows, order."""

import asyncio
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from csms.clock import ManualClock
from csms.errors import InvalidInput, MeterFault
from csms.metering.building import LineReading
from csms.metering.meter_service import Surroundings, WatchedMeter
from csms.sites.model import Circuit, CircuitMeter, MeterCounts
from csms.stations.model import PerLine
from csms.store.database import Database
from tests.csms.metering.conftest import NOON, SUPPLY, MakeYard, Yard
from tests.csms.yard import facts

EVEN: PerLine = (10.0, 10.0, 10.0)


@pytest.fixture
async def slow(database: Database, clock: ManualClock, make_yard: MakeYard) -> Yard:
    """A yard by the standing clock."""
    return await make_yard(database, clock)


async def meter_of(yard: Yard, clock: ManualClock, period_s: float = 10.0) -> WatchedMeter:
    await yard.measure(None, counts=MeterCounts.TOTAL, period_s=period_s)
    await yard.meters.start()
    for _ in range(5):
        await asyncio.sleep(0)
    return yard.meters._meters[SUPPLY]


async def heard(meter: WatchedMeter, clock: ManualClock, amps: PerLine = EVEN, age_s: float = 0) -> None:
    await meter.heard(LineReading(clock.now() - timedelta(seconds=age_s), amps))


async def wake(clock: ManualClock, seconds: float) -> None:
    """Time goes on, and whoever slept until then does what it has to."""
    clock.advance(seconds)
    for _ in range(20):
        await asyncio.sleep(0)


async def test_a_meter_is_silent_after_three_periods_and_back_with_the_next_word(
    slow: Yard, clock: ManualClock
) -> None:
    meter = await meter_of(slow, clock)
    await heard(meter, clock)
    await wake(clock, 29.5)
    assert meter.status().fresh
    assert await facts(slow.database, "meter.") == []
    await wake(clock, 0.6)
    silent = await slow.fact("meter.silent")
    assert not meter.status().fresh
    assert silent.body["last_at"] == NOON.isoformat()
    await wake(clock, 300)
    await heard(meter, clock, (3.0, 3.0, 3.0))
    back = await slow.fact("meter.back")
    assert (back.body["current_a"], back.at) == ({"L1": 3.0, "L2": 3.0, "L3": 3.0}, clock.now())
    assert [fact.topic for fact in await facts(slow.database, "meter.")] == ["meter.silent", "meter.back"]
    await wake(clock, 31)
    assert (await slow.fact("meter.silent", 2)).at == clock.now()


async def test_a_meter_that_never_spoke_is_silent_too(slow: Yard, clock: ManualClock) -> None:
    await meter_of(slow, clock)
    await wake(clock, 31)
    assert (await slow.fact("meter.silent")).body["last_at"] is None


async def test_old_readings_do_not_make_a_silent_meter_speak(slow: Yard, clock: ManualClock) -> None:
    meter = await meter_of(slow, clock)
    await wake(clock, 31)
    await slow.fact("meter.silent")
    await heard(meter, clock, age_s=31)
    assert not meter.status().fresh
    assert [fact.topic for fact in await facts(slow.database, "meter.")] == ["meter.silent"]


async def test_an_older_reading_does_not_replace_a_newer_one_and_none_is_of_tomorrow(
    slow: Yard, clock: ManualClock
) -> None:
    meter = await meter_of(slow, clock)
    await heard(meter, clock, (20.0, 20.0, 20.0))
    await heard(meter, clock, EVEN, age_s=1)
    assert meter.status().last == LineReading(NOON, (20.0, 20.0, 20.0))
    assert slow.heard.readings.qsize() == 1
    await wake(clock, 5)
    await heard(meter, clock, EVEN, age_s=-3600)
    assert meter.status().last == LineReading(clock.now(), EVEN)


async def test_rows_are_kept_one_a_minute_and_one_for_each_step(slow: Yard, clock: ManualClock) -> None:
    meter = await meter_of(slow, clock)
    for second in range(121):
        amps = (10.0, 30.0, None) if second == 90 else EVEN
        await heard(meter, clock, amps)
        clock.advance(1)
    kept = await slow.meters.history(meter.circuit, NOON, NOON + timedelta(hours=1))
    assert [((row.at - NOON).total_seconds(), row.current_a) for row in kept] == [
        (0, EVEN),
        (60, EVEN),
        (90, (10.0, 30.0, None)),
        (95, EVEN),
    ]
    assert slow.heard.readings.qsize() == 121
    assert await slow.meters.history(meter.circuit, NOON, NOON) == ()


async def test_a_reading_without_a_line_of_the_circuit_is_none(slow: Yard, clock: ManualClock) -> None:
    meter = await meter_of(slow, clock)
    await heard(meter, clock, (None, None, None))
    status = meter.status()
    assert (status.last, status.error) == (None, "the reading has no line of this circuit")
    await slow.sites.update_circuit(SUPPLY, limit_a=(63.0, 63.0, 0.0))
    assert (await slow.meters.status(SUPPLY)).error
    await heard(meter, clock, (1.0, None, 3.0))
    assert await slow.heard.next() == {"L1": 1.0}
    assert (meter.status().missing, meter.status().error) == (("L2",), "")


async def test_power_is_told_even_when_nothing_can_be_kept(
    slow: Yard, clock: ManualClock, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    meter = await meter_of(slow, clock)

    async def full(*_: object) -> None:
        raise OSError("no space left on device")

    monkeypatch.setattr(slow.database.writer, "add", full)
    await heard(meter, clock)
    assert await slow.heard.next() == {"L1": 10.0, "L2": 10.0, "L3": 10.0}
    assert "could not be kept" in caplog.text


async def test_a_reading_that_power_does_not_take_yet_ends_nothing(
    slow: Yard, clock: ManualClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    meter = await meter_of(slow, clock)

    async def early(*_: object) -> None:
        raise InvalidInput("circuit", "has no building meter")

    monkeypatch.setattr(meter, "_around", replace(meter._around, hear=early))
    await heard(meter, clock)
    assert meter.status().fresh
    assert len(await slow.meters.history(meter.circuit, NOON, NOON + timedelta(hours=1))) == 1


async def test_settings_that_cannot_be_read_are_said(slow: Yard, clock: ManualClock) -> None:
    await slow.measure({"kind": "carrier-pigeon"})
    await slow.meters.start()
    await wake(clock, 0)
    status = await slow.meters.status(SUPPLY)
    assert (status.kind, status.fresh) == ("unusable", False)
    assert status.error.startswith("meter.input.kind: 'carrier-pigeon' is none of")


def test_secrets_are_files_of_one_folder(tmp_path: Path, clock: ManualClock) -> None:
    async def nobody(*_: object) -> None: ...

    around = Surroundings(
        database=Database(f"sqlite+aiosqlite:///{tmp_path / 'yard.db'}"),
        clock=clock,
        secrets=tmp_path,
        silent_at_least_s=30,
        hear=nobody,
    )
    circuit = Circuit(id="main", site_id="yard", name="Main", fed_from=None, limit_a=(63, 63, 63))
    meter = WatchedMeter(circuit, CircuitMeter(MeterCounts.BASE, 10), around)
    (tmp_path / "broker.pw").write_text("warp\n")
    assert meter.secret("broker.pw") == "warp"
    with pytest.raises(MeterFault, match="no file secrets/other"):
        meter.secret("other")
    (tmp_path / "latin").write_bytes(b"\xff\xfe")
    with pytest.raises(MeterFault, match="cannot be read"):
        meter.secret("latin")
