"""A 2.0.1 station against the `ocpp` package as central system: every message passes the official schemas
there."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import datetime
from random import Random
from typing import Any

from ocpp.v201 import call

from tools.simulator.car import Car, CarModel
from tools.simulator.clock import RunningClock
from tools.simulator.fleet import make_station
from tools.simulator.link import LinkSettings
from tools.simulator.options import Options
from tools.simulator.station import Station, StationModel, Version

GOOD, BLOCKED = "04A1B2C3D4E5F6", "04B10C0000000B"


def car(soc: float = 0.5) -> Car:
    return Car(CarModel(name="test", battery_wh=50_000, max_current_a=16), soc=soc, random=Random(1))


@asynccontextmanager
async def running(url: str, *, options: Options | None = None, **model: Any) -> AsyncIterator[Station]:
    station = make_station(
        StationModel(identity="MILL-01", version=Version.V201, tick_s=0.02, **model),
        clock=RunningClock(factor=60),
        settings=LinkSettings(url=url, wait_min_s=0.02, wait_random_s=0.02),
        random=Random(7),
        options=options or Options(message_retry_s=1),
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


def events(central: Any, kind: str | None = None) -> list[dict[str, Any]]:
    return [e for e in central.heard.of("TransactionEvent") if kind in (None, e["eventType"])]


def register(event: dict[str, Any]) -> float:
    values = event["meterValue"][0]["sampledValue"]
    (found,) = (v for v in values if v["measurand"] == "Energy.Active.Import.Register")
    return float(found["value"])


async def test_charges_a_car_and_stops_by_the_same_card(central: Any) -> None:
    async with running(central.url, reports_soc=True) as station:
        await central.heard.until(lambda h: bool(h.of("StatusNotification")))
        station.plug_in(car())
        assert await station.present(GOOD) == "Accepted"
        periodic = "MeterValuePeriodic"
        await central.heard.until(
            lambda h: sum(e["triggerReason"] == periodic for e in h.of("TransactionEvent")) >= 2
        )
        assert await station.present(GOOD) == "Stopped"
        await station.link.outbox.emptied()
        station.unplug()
        await central.heard.until(lambda h: h.of("StatusNotification")[-1]["connectorStatus"] == "Available")
    (start,), (end,) = events(central, "Started"), events(central, "Ended")
    assert [e["seqNo"] for e in events(central)] == list(range(len(events(central))))
    assert len({e["transactionInfo"]["transactionId"] for e in events(central)}) == 1
    assert start["idToken"] == end["idToken"] == {"idToken": GOOD, "type": "ISO14443"}
    assert all("idToken" not in e for e in events(central, "Updated"))
    assert (end["triggerReason"], end["transactionInfo"]["stoppedReason"]) == ("StopAuthorized", "Local")
    sampled = [e for e in events(central) if e["triggerReason"] == "MeterValuePeriodic"]
    assert len(sampled[0]["meterValue"][0]["sampledValue"]) == 13
    registers = [register(e) for e in events(central)]
    assert registers == sorted(registers)
    passed = datetime.fromisoformat(end["timestamp"]) - datetime.fromisoformat(start["timestamp"])
    most_wh = 3 * 230 * 16 * passed.total_seconds() / 3600
    assert 0.5 * most_wh < registers[-1] - registers[0] <= most_wh


async def test_tells_states_by_event_where_it_is_such_a_station(central: Any) -> None:
    async with running(central.url, events_for_status=True) as station:
        await central.heard.until(lambda h: bool(h.of("NotifyEvent")))
        station.plug_in(car())
        await central.heard.until(lambda h: len(h.of("NotifyEvent")) == 2)
    first, second = (m["eventData"][0] for m in central.heard.of("NotifyEvent"))
    assert (first["actualValue"], second["actualValue"]) == ("Available", "Occupied")
    assert second["component"] == {"name": "Connector", "evse": {"id": 1, "connectorId": 1}}
    assert central.heard.of("StatusNotification") == []


async def test_a_transaction_may_begin_with_the_cable(central: Any) -> None:
    async with running(central.url, options=Options(starts_when_plugged=True)) as station:
        station.plug_in(car())
        await central.heard.until(lambda h: bool(h.of("TransactionEvent")))
        assert station.bays[0].evse.offered_a == 0  # nobody pays yet
        assert await station.present(BLOCKED) == "Blocked"
        assert await station.present(GOOD) == "Accepted"
        await central.heard.until(lambda h: len(h.of("TransactionEvent")) >= 2)
        station.unplug()
        await station.link.outbox.emptied()
    first, second = events(central)[:2]
    assert (first["triggerReason"], "idToken" in first) == ("CablePluggedIn", False)
    assert (second["eventType"], second["triggerReason"]) == ("Updated", "Authorized")
    assert second["idToken"]["idToken"] == GOOD
    assert events(central)[-1]["transactionInfo"]["stoppedReason"] == "EVDisconnected"


async def test_profiles_are_set_reported_and_cleared(central: Any) -> None:
    async with running(central.url) as station:
        station.plug_in(car())
        await station.present(GOOD)
        await central.heard.until(lambda h: bool(h.of("TransactionEvent")))
        session = station.bays[0].session
        assert session is not None
        point = central.stations["MILL-01"]
        profile = {
            "id": 9,
            "stack_level": 2,
            "charging_profile_purpose": "TxProfile",
            "charging_profile_kind": "Relative",
            "transaction_id": session.key,
            "charging_schedule": [
                {
                    "id": 1,
                    "charging_rate_unit": "A",
                    "charging_schedule_period": [{"start_period": 0, "limit": 7.0}],
                }
            ],
        }
        assert (
            await point.call(call.SetChargingProfile(evse_id=1, charging_profile=profile))
        ).status == "Accepted"
        twin = await point.call(call.SetChargingProfile(evse_id=1, charging_profile={**profile, "id": 10}))
        assert (twin.status, twin.status_info["reason_code"]) == ("Rejected", "DuplicateProfile")  # K01.FR.39
        foreign = {**profile, "transaction_id": "no-such"}
        assert (
            await point.call(call.SetChargingProfile(evse_id=1, charging_profile=foreign))
        ).status == "Rejected"
        composite = await point.call(call.GetCompositeSchedule(duration=60, evse_id=1))
        assert composite.schedule["charging_schedule_period"][0]["limit"] == 7.0
        while station.site_currents_a() != (7.0, 7.0, 7.0):
            await station.clock.sleep(1)
        criterion = {"charging_profile_purpose": "TxProfile"}
        asked = await point.call(
            call.GetChargingProfiles(request_id=3, evse_id=1, charging_profile=criterion)
        )
        assert asked.status == "Accepted"
        await central.heard.until(lambda h: bool(h.of("ReportChargingProfiles")))
        assert central.heard.of("ReportChargingProfiles")[0]["chargingProfile"][0]["id"] == 9
        assert (await point.call(call.ClearChargingProfile(charging_profile_id=9))).status == "Accepted"
        assert (await point.call(call.ClearChargingProfile(charging_profile_id=9))).status == "Unknown"
        none = await point.call(call.GetChargingProfiles(request_id=4, charging_profile=criterion))
        assert none.status == "NoProfiles"


async def test_remote_start_and_stop(central: Any) -> None:
    async with running(central.url) as station:
        station.plug_in(car())
        point = central.stations["MILL-01"]
        token = {"id_token": GOOD, "type": "ISO15693"}
        started = await point.call(
            call.RequestStartTransaction(id_token=token, remote_start_id=44, evse_id=1)
        )
        assert started.status == "Accepted"
        await central.heard.until(lambda h: bool(h.of("TransactionEvent")))
        first = events(central)[0]
        assert first["triggerReason"] == "RemoteStart"
        assert first["transactionInfo"]["remoteStartId"] == 44
        assert first["idToken"]["type"] == "ISO15693"
        key = first["transactionInfo"]["transactionId"]
        status = await point.call(call.GetTransactionStatus(transaction_id=key))
        assert status.ongoing_indicator is True
        assert (await point.call(call.RequestStopTransaction(transaction_id="x"))).status == "Rejected"
        assert (await point.call(call.RequestStopTransaction(transaction_id=key))).status == "Accepted"
        await central.heard.until(lambda h: h.of("TransactionEvent")[-1]["eventType"] == "Ended")
        assert "idToken" not in events(central, "Ended")[0]  # never when ended by RequestStop (E201 2.14.2)


async def test_variables_and_reports(central: Any) -> None:
    async with running(central.url) as station:
        point = central.stations["MILL-01"]
        interval = {"component": {"name": "SampledDataCtrlr"}, "variable": {"name": "TxUpdatedInterval"}}
        answer = await point.call(
            call.SetVariables(
                set_variable_data=[
                    {**interval, "attribute_value": "15"},
                    {**interval, "attribute_value": "often"},
                    {"component": {"name": "No"}, "variable": {"name": "No"}, "attribute_value": "1"},
                ]
            )
        )
        states = [result["attribute_status"] for result in answer.set_variable_result]
        assert states == ["Accepted", "Rejected", "UnknownComponent"]
        assert station.options.sample_s == 15
        secret = {"component": {"name": "SecurityCtrlr"}, "variable": {"name": "BasicAuthPassword"}}
        got = await point.call(call.GetVariables(get_variable_data=[interval, secret]))
        assert got.get_variable_result[0]["attribute_value"] == "15"
        assert got.get_variable_result[1]["attribute_status"] == "Rejected"
        asked = await point.call(call.GetBaseReport(request_id=8, report_base="FullInventory"))
        assert asked.status == "Accepted"
        await central.heard.until(
            lambda h: bool(h.of("NotifyReport")) and not h.of("NotifyReport")[-1]["tbc"]
        )
        parts = central.heard.of("NotifyReport")
        assert [part["seqNo"] for part in parts] == list(range(len(parts)))
        names = {e["component"]["name"] for part in parts for e in part["reportData"]}
        assert {"ChargingStation", "EVSE", "Connector", "SmartChargingCtrlr"} <= names


async def test_availability_trigger_unlock_and_reset(central: Any) -> None:
    async with running(central.url) as station:
        point = central.stations["MILL-01"]
        off = await point.call(call.ChangeAvailability(operational_status="Inoperative", evse={"id": 1}))
        assert off.status == "Accepted"
        await central.heard.until(
            lambda h: h.of("StatusNotification")[-1]["connectorStatus"] == "Unavailable"
        )
        await point.call(call.ChangeAvailability(operational_status="Operative"))
        unlocked = await point.call(call.UnlockConnector(evse_id=1, connector_id=1))
        assert unlocked.status == "Unlocked"
        beats = len(central.heard.of("Heartbeat"))
        assert (await point.call(call.TriggerMessage(requested_message="Heartbeat"))).status == "Accepted"
        await central.heard.until(lambda h: len(h.of("Heartbeat")) > beats)
        await point.call(call.TriggerMessage(requested_message="MeterValues", evse={"id": 1}))
        await central.heard.until(lambda h: bool(h.of("MeterValues")))
        station.plug_in(car())
        await station.present(GOOD)
        later = await point.call(call.Reset(type="OnIdle"))
        assert later.status == "Scheduled"
        await point.call(call.ChangeAvailability(operational_status="Inoperative", evse={"id": 1}))
        station.unplug()
        await central.heard.until(lambda h: len(h.of("BootNotification")) == 2)
        assert central.heard.of("BootNotification")[-1]["reason"] == "ScheduledReset"
        assert central.heard.of("TransactionEvent")[-1]["eventType"] == "Ended"


async def test_offline_events_are_marked_and_replayed_in_order(central: Any) -> None:
    async with running(central.url) as station:
        station.plug_in(car())
        await station.present(GOOD)
        await station.link.outbox.emptied()
        station.link.cut()
        await central.sockets[-1].wait_closed()
        await station.clock.sleep(150)
        station.unplug()
        station.link.mend()
        await station.link.outbox.emptied()
    assert [e["seqNo"] for e in events(central)] == list(range(len(events(central))))
    assert events(central)[-1]["eventType"] == "Ended"
    assert events(central)[-1]["offline"] is True
    assert "offline" not in events(central)[0]
