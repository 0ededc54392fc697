"""A 1.6 station against the `ocpp` package as central system: every message passes the official schemas
there."""

import asyncio
import base64
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from random import Random
from typing import Any

from ocpp.v16 import call

from tools.simulator.car import Car, CarModel
from tools.simulator.clock import RunningClock
from tools.simulator.fleet import make_station
from tools.simulator.link import LinkSettings
from tools.simulator.options import Options
from tools.simulator.station import Station, StationModel, Version

GOOD, BLOCKED = "04A1B2C3D4E5F6", "04B10C0000000B"
FACTOR = 60.0


def car(soc: float = 0.5) -> Car:
    return Car(CarModel(name="test", battery_wh=50_000, max_current_a=16), soc=soc, random=Random(1))


@asynccontextmanager
async def running(url: str, identity: str = "COURT-01", **settings: Any) -> AsyncIterator[Station]:
    station = make_station(
        StationModel(identity=identity, version=Version.V16, tick_s=0.02),
        clock=RunningClock(factor=FACTOR),
        settings=LinkSettings(url=url, wait_min_s=0.02, wait_random_s=0.02, **settings),
        random=Random(7),
        options=Options(password="courtyard-secret-1", message_retry_s=1),
    )
    task = asyncio.ensure_future(station.run())
    try:
        async with asyncio.timeout(20):
            await station.link.accepted()
        yield station
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
    assert task.cancelled(), task.exception()


def register(value: dict[str, Any]) -> float:
    (found,) = (v for v in value["sampledValue"] if v["measurand"] == "Energy.Active.Import.Register")
    return float(found["value"])


async def test_boots_and_tells_every_connector(central: Any) -> None:
    async with running(central.url, "RDAM 123"):
        await central.heard.until(lambda h: len(h.of("StatusNotification")) >= 2)
    path, header = central.heard.headers[0]
    assert path == "/ocpp/RDAM%20123"  # OCPP-J 1.6 section 3.1.1, the standard's own example of an identity
    assert header == "Basic " + base64.b64encode(b"RDAM 123:courtyard-secret-1").decode()
    assert central.heard.messages[0][0] == "BootNotification"
    assert [m["connectorId"] for m in central.heard.of("StatusNotification")[:2]] == [0, 1]


async def test_charges_a_car_and_stops_when_it_leaves(central: Any) -> None:
    async with running(central.url) as station:
        await central.heard.until(lambda h: len(h.of("StatusNotification")) == 2)
        station.plug_in(car())
        await central.heard.until(lambda h: h.of("StatusNotification")[-1]["status"] == "Preparing")
        assert await station.present(GOOD) == "Accepted"
        await central.heard.until(lambda h: len(h.of("MeterValues")) >= 2)
        station.unplug()
        await station.link.outbox.emptied()
        await central.heard.until(lambda h: h.of("StatusNotification")[-1]["status"] == "Available")
    (start,), (stop,) = central.heard.of("StartTransaction"), central.heard.of("StopTransaction")
    first, second = (m["meterValue"][0] for m in central.heard.of("MeterValues")[:2])
    assert len(first["sampledValue"]) == 12
    assert stop["reason"] == "EVDisconnected"
    assert start["meterStart"] <= register(first) < register(second) <= stop["meterStop"] + 1
    begun, ended = (datetime.fromisoformat(m["timestamp"]) for m in (start, stop))
    most_wh = 3 * 230 * 16 * (ended - begun).total_seconds() / 3600
    assert 0.5 * most_wh < stop["meterStop"] - start["meterStart"] <= most_wh
    states = [m["status"] for m in central.heard.of("StatusNotification") if m["connectorId"] == 1]
    assert states == ["Available", "Preparing", "Charging", "Available"]


async def test_a_refused_card_starts_nothing(central: Any) -> None:
    async with running(central.url) as station:
        station.plug_in(car())
        assert await station.present(BLOCKED) == "Blocked"
        assert await station.present("0DEAD000") == "Invalid"
        assert station.bays[0].session is None
    assert central.heard.of("StartTransaction") == []


async def test_obeys_profiles_and_reports_the_composite(central: Any) -> None:
    async with running(central.url) as station:
        station.plug_in(car())
        await station.present(GOOD)
        await central.heard.until(lambda h: bool(h.of("MeterValues")))
        session = station.bays[0].session
        assert session is not None
        point = central.stations["COURT-01"]
        profile = {
            "charging_profile_id": 5,
            "transaction_id": session.number,
            "stack_level": 1,
            "charging_profile_purpose": "TxProfile",
            "charging_profile_kind": "Absolute",
            "charging_schedule": {
                "start_schedule": datetime(2026, 1, 1, tzinfo=UTC).isoformat(),
                "charging_rate_unit": "A",
                "charging_schedule_period": [{"start_period": 0, "limit": 9.5}],
            },
        }
        answer = await point.call(call.SetChargingProfile(connector_id=1, cs_charging_profiles=profile))
        assert answer.status == "Accepted"
        wrong = await point.call(
            call.SetChargingProfile(connector_id=1, cs_charging_profiles={**profile, "transaction_id": 1})
        )
        assert wrong.status == "Rejected"
        schedule = await point.call(call.GetCompositeSchedule(connector_id=1, duration=600))
        periods = schedule.charging_schedule["charging_schedule_period"]
        assert [(p["start_period"], p["limit"]) for p in periods] == [(0, 9.5)]
        await central.heard.until(
            lambda h: any(
                v.get("measurand") == "Current.Import" and float(v["value"]) == 9.5
                for v in h.of("MeterValues")[-1]["meterValue"][0]["sampledValue"]
            )
        )
        assert station.site_currents_a() == (9.5, 9.5, 9.5)
        assert (await point.call(call.ClearChargingProfile(id=5))).status == "Accepted"
        assert (await point.call(call.ClearChargingProfile(id=5))).status == "Unknown"


async def test_answers_every_command_of_core_and_remote_trigger(central: Any) -> None:
    async with running(central.url) as station:
        point = central.stations["COURT-01"]
        changed = await point.call(call.ChangeConfiguration(key="MeterValueSampleInterval", value="30"))
        assert (changed.status, station.options.sample_s) == ("Accepted", 30)
        for key, value, status in (
            ("MeterValueSampleInterval", "-1", "Rejected"),
            ("NumberOfConnectors", "3", "NotSupported"),
            ("AuthorizationKey", "0001020304050607FFFFFFFFFFFFFFFFFFFFFFFF", "Accepted"),
        ):
            assert (await point.call(call.ChangeConfiguration(key=key, value=value))).status == status
        told = await point.call(call.GetConfiguration(key=["NumberOfConnectors", "Nonsense"]))
        assert told.configuration_key[0]["value"] == "1"
        assert told.unknown_key == ["Nonsense"]
        assert (await point.call(call.ClearCache())).status == "Accepted"
        assert (await point.call(call.DataTransfer(vendor_id="x"))).status == "UnknownVendorId"
        assert (await point.call(call.UnlockConnector(connector_id=1))).status == "Unlocked"
        assert (await point.call(call.UnlockConnector(connector_id=9))).status == "NotSupported"
        beats = len(central.heard.of("Heartbeat"))
        assert (await point.call(call.TriggerMessage(requested_message="Heartbeat"))).status == "Accepted"
        await central.heard.until(lambda h: len(h.of("Heartbeat")) > beats)
        triggered = await point.call(call.TriggerMessage(requested_message="MeterValues", connector_id=1))
        assert triggered.status == "Accepted"
        await central.heard.until(lambda h: bool(h.of("MeterValues")))
        off = await point.call(call.ChangeAvailability(connector_id=1, type="Inoperative"))
        assert off.status == "Accepted"
        await central.heard.until(lambda h: h.of("StatusNotification")[-1]["status"] == "Unavailable")
        await point.call(call.ChangeAvailability(connector_id=0, type="Operative"))
        assert await point.call(call.ReserveNow(1, "2030-01-01T00:00:00Z", "X", 1), suppress=True) is None
        assert (await point.call(call.Reset(type="Soft"))).status == "Accepted"
        await central.heard.until(lambda h: len(h.of("BootNotification")) == 2)
        # OCPP-J 1.6 section 6.2.2: the example of the standard; the key goes as raw bytes
        raw = base64.b64encode(b"COURT-01:" + bytes.fromhex("0001020304050607FFFFFFFFFFFFFFFFFFFFFFFF"))
        assert central.heard.headers[-1][1] == "Basic " + raw.decode()


async def test_remote_start_and_stop(central: Any) -> None:
    async with running(central.url) as station:
        station.plug_in(car())
        point = central.stations["COURT-01"]
        assert (
            await point.call(call.RemoteStartTransaction(id_tag=GOOD, connector_id=1))
        ).status == "Accepted"
        await central.heard.until(lambda h: bool(h.of("MeterValues")))
        assert central.heard.of("Authorize") == [{"idTag": GOOD}]
        session = station.bays[0].session
        assert session is not None
        assert session.number is not None
        assert (await point.call(call.RemoteStopTransaction(transaction_id=1))).status == "Rejected"
        stopped = await point.call(call.RemoteStopTransaction(transaction_id=session.number))
        assert stopped.status == "Accepted"
        await central.heard.until(lambda h: bool(h.of("StopTransaction")))
        assert central.heard.of("StopTransaction")[0]["reason"] == "Remote"
        await central.heard.until(lambda h: h.of("StatusNotification")[-1]["status"] == "Finishing")


async def test_what_happens_off_line_is_told_later_in_order_with_its_own_time(central: Any) -> None:
    async with running(central.url) as station:
        station.plug_in(car())
        await station.present(GOOD)
        await central.heard.until(lambda h: bool(h.of("StartTransaction")))
        station.link.cut()
        await central.sockets[-1].wait_closed()
        cut_at = station.clock.now()
        await station.clock.sleep(200)
        assert await station.present(GOOD) == "Stopped"
        station.unplug()
        station.plug_in(car())
        assert await station.present(GOOD) == "Accepted"  # remembered from before
        assert len(station.link.outbox) >= 4
        before = len(central.heard.messages)
        station.link.mend()
        await station.link.outbox.emptied()
        mended_at = station.clock.now()
    replayed = [m for m in central.heard.messages[before:] if "Transaction" in m[0] or m[0] == "MeterValues"]
    assert [name for name, _ in replayed][-2:] == ["StopTransaction", "StartTransaction"]
    assert (
        len(central.heard.of("BootNotification")) == 1
    )  # a mere reconnect is no boot (OCPP-J 1.6 section 5.4)
    times = [
        datetime.fromisoformat(m["timestamp"] if "timestamp" in m else m["meterValue"][0]["timestamp"])
        for _, m in replayed
    ]
    assert times == sorted(times)
    assert all(at < mended_at for at in times)
    assert sum(at > cut_at for at in times) >= 2


async def test_repeats_a_start_that_is_not_answered_and_then_gives_up(central: Any) -> None:
    """OCPP 1.6 section 3.7.1: so many attempts, then the stop goes out with transaction id -1 (errata
    3.18)."""
    central.mute.add("StartTransaction")
    async with running(central.url, call_timeout_s=0.05) as station:
        station.options.message_attempts = 3
        station.plug_in(car())
        await station.present(GOOD)
        while station.link.outbox.dropped == 0:
            await station.clock.sleep(1)
        station.unplug()
        await central.heard.until(lambda h: bool(h.of("StopTransaction")))
    assert central.heard.of("StopTransaction")[0]["transactionId"] == -1


async def test_pending_and_rejected_wait_their_interval_and_send_nothing_else(central: Any) -> None:
    """OCPP 1.6 section 4.2: until accepted a station sends nothing but BootNotification, no sooner than the
    interval."""
    central.boots[:] = [("Pending", 30), ("Rejected", 60)]
    async with running(central.url) as station:
        passed_s = (station.clock.now() - station.clock.origin).total_seconds()  # type: ignore[attr-defined]
        assert passed_s >= 90
    assert [name for name, _ in central.heard.messages[:3]] == ["BootNotification"] * 3
