"""Bad manners about transactions: repeats, wrong ids, lost starts and stops, registers that cannot be.

Each is a conversation of a scripted socket with a whole node. Rule behind all of them: what is about a
transaction is answered with a result whenever it can be read (common practice; OCPP 1.6 errata 3.18).
"""

from datetime import UTC, datetime, timedelta

import pytest

from tests.scenarios.rest import until
from tests.scenarios.rude import BEGIN_WH, Yard, stamp

MINUTE = timedelta(minutes=1)


async def test_the_same_start_again_is_the_same_transaction(yard: Yard) -> None:
    """Same id; another id after a reconnect; and a third time when it is over."""
    rude = await yard.newcomer()
    start = rude.start_of(yard.ago(60))
    first = await rude.call("StartTransaction", start, "the same id")
    assert first["idTagInfo"]["status"] == "Accepted"
    assert await rude.call("StartTransaction", start, "the same id") == first
    await rude.hang_up()
    await rude.dial()
    assert await rude.call("StartTransaction", start, "another id") == first
    await rude.stop(first["transactionId"], yard.clock.now(), BEGIN_WH + 5_000)
    assert await rude.call("StartTransaction", start) == first
    session = await rude.session()
    assert (session["state"], session["energy_wh"], session["marks"]) == ("ended", 5_000, {})
    assert session["transaction_id"] == str(first["transactionId"])


@pytest.mark.parametrize("made_up", [0, -1, 2**31 - 1, 987_654])
async def test_a_stop_with_a_made_up_id_ends_the_one_session_that_it_fits(yard: Yard, made_up: int) -> None:
    rude = await yard.newcomer()
    await rude.start(yard.ago(60))
    assert await rude.stop(made_up, yard.clock.now(), BEGIN_WH + 5_000, idTag=rude.card) == {
        "idTagInfo": {"status": "Accepted"}
    }
    session = await rude.session()
    assert (session["state"], session["energy_wh"]) == ("ended", 5_000)
    assert list(session["marks"]) == ["matched_stop"]


async def test_a_stop_that_fits_two_sessions_ends_neither_and_waits_for_a_person(yard: Yard) -> None:
    rude, other = await yard.newcomer(evses=2), await yard.newcomer(dial=False)
    await rude.start(yard.ago(60))
    await rude.start(yard.ago(50), connectorId=2, idTag=other.card)
    assert await rude.stop(-1, yard.clock.now(), BEGIN_WH + 5_000) == {}
    assert [session["open"] for session in await yard.rest.sessions(rude.station_id)] == [True, True]
    (orphan,) = await yard.rest.every(f"/orphans?station={rude.station_id}")
    assert "fits 2 sessions" in orphan["reason"]


async def test_a_stop_with_the_id_of_another_stations_transaction_ends_nothing_there(yard: Yard) -> None:
    victim, rude = await yard.newcomer(), await yard.newcomer()
    theirs = await victim.start(yard.ago(60))
    assert await rude.stop(theirs, yard.clock.now(), BEGIN_WH + 9_000, idTag=victim.card) == {
        "idTagInfo": {"status": "Accepted"}
    }
    assert (await victim.session())["open"] is True
    assert await yard.rest.sessions(rude.station_id) == []
    assert "another station's" in (await yard.fact("session.orphan", rude.station_id))["reason"]
    alarm = await until(lambda: alarm_of(yard, rude.station_id), "an alarm", timeout_s=60)
    assert alarm == "session_unassigned"
    await victim.stop(theirs, yard.clock.now(), BEGIN_WH + 4_000)
    assert (await victim.session())["energy_wh"] == 4_000


async def alarm_of(yard: Yard, station_id: str) -> str | None:
    found = await yard.rest.every(f"/alarms?site=corner&station={station_id}")
    return found[0]["kind"] if found else None


async def test_ids_are_whole_numbers_that_never_come_again(yard: Yard) -> None:
    rude, other = await yard.newcomer(), await yard.newcomer()
    seen = []
    for hour in (5, 4, 3):
        for station in (rude, other):
            at = yard.ago(60 * hour)
            number = await station.start(at)
            await station.stop(number, at + 30 * MINUTE, BEGIN_WH + 100)
            seen.append(number)
    assert seen == sorted(set(seen))
    assert seen[0] > 0
    assert seen[-1] < 2**31


async def test_samples_and_a_stop_without_a_start_make_a_session_that_says_so(yard: Yard) -> None:
    rude = await yard.newcomer()
    assert await rude.meter(55_555, yard.ago(30), BEGIN_WH) == {}
    assert await rude.meter(55_555, yard.ago(15), BEGIN_WH + 2_000) == {}
    assert (await rude.session())["state"] == "provisional"
    assert await rude.stop(55_555, yard.clock.now(), BEGIN_WH + 4_000) == {}
    session = await rude.session()
    assert (session["state"], session["energy_wh"], session["member_id"]) == ("ended", 4_000, None)
    assert "no_start_seen" in session["marks"]


async def test_the_first_stop_counts_and_late_samples_reopen_nothing(yard: Yard) -> None:
    rude = await yard.newcomer()
    number = await rude.start(yard.ago(60))
    await rude.stop(number, yard.ago(10), BEGIN_WH + 6_000)
    assert await rude.stop(number, yard.ago(10), BEGIN_WH + 6_000) == {}, "the same again"
    assert (await rude.session())["marks"] == {}
    assert await rude.stop(number, yard.ago(5), BEGIN_WH + 7_000) == {}, "another one"
    assert await rude.meter(number, yard.ago(30), BEGIN_WH + 3_000) == {}
    session = await rude.session()
    assert (session["state"], session["energy_wh"]) == ("ended", 6_000)
    assert session["marks"]["stop_conflict"]["register_wh"] == BEGIN_WH + 7_000
    samples = await yard.rest.every(f"/sessions/{session['id']}/samples")
    assert [each["register_wh"] for each in samples] == [BEGIN_WH + 3_000]


async def test_an_update_after_the_end_of_2_0_1_reopens_nothing(yard: Yard) -> None:
    rude = await yard.newcomer("2.0.1")
    token = {"idToken": {"idToken": rude.card, "type": "ISO14443"}}
    await rude.event("Started", "t", 0, yard.ago(60), BEGIN_WH, **token)
    await rude.event("Ended", "t", 2, yard.ago(10), BEGIN_WH + 6_000)
    assert "sequence_gap" in (await rude.session())["marks"]
    assert await rude.event("Updated", "t", 1, yard.ago(30), BEGIN_WH + 3_000) == {}
    session = await rude.session()
    assert (session["state"], session["energy_wh"], session["marks"]) == ("ended", 6_000, {})


async def test_a_queue_told_backwards_comes_to_the_same_session(yard: Yard) -> None:
    """Status first, then the end, the middle, the start."""
    rude = await yard.newcomer("2.0.1")
    token = {"idToken": {"idToken": rude.card, "type": "ISO14443"}}
    status = {
        "timestamp": stamp(yard.clock.now()),
        "connectorStatus": "Available",
        "evseId": 1,
        "connectorId": 1,
    }
    assert await rude.call("StatusNotification", status) == {}
    assert await rude.event("Ended", "back", 3, yard.ago(10), BEGIN_WH + 6_000) == {}
    assert await rude.event("Updated", "back", 2, yard.ago(20), BEGIN_WH + 4_000) == {}
    started = await rude.event("Started", "back", 0, yard.ago(60), BEGIN_WH, **token)
    assert started["idTokenInfo"]["status"] == "Accepted"
    session = await rude.session()
    assert session["marks"]["sequence_gap"] == [[0, 0], [2, 3]]
    assert await rude.event("Updated", "back", 1, yard.ago(40), BEGIN_WH + 2_000) == {}
    session = await rude.session()
    assert (session["state"], session["energy_wh"], session["marks"]) == ("ended", 6_000, {})
    assert session["started_at"] == stamp(yard.ago(60))


async def test_a_stop_of_1_6_before_its_start_is_kept_for_a_person(yard: Yard) -> None:
    """It has no id that we could know: it fits nothing yet, and nothing is lost."""
    rude = await yard.newcomer()
    assert await rude.stop(-1, yard.ago(10), BEGIN_WH + 6_000) == {}
    await rude.start(yard.ago(60))
    (orphan,) = await yard.rest.every(f"/orphans?station={rude.station_id}")
    session = await rude.session()
    settled = await yard.rest.post(f"/orphans/{orphan['id']}/assign", {"session_id": session["id"]})
    assert settled["session_id"] == session["id"]
    session = await rude.session()
    assert (session["state"], session["energy_wh"]) == ("ended", 6_000)


async def test_a_register_that_starts_again_at_a_reboot_is_summed_in_pieces(yard: Yard) -> None:
    rude = await yard.newcomer()
    number = await rude.start(yard.ago(60))
    await rude.meter(number, yard.ago(40), BEGIN_WH + 5_000)
    await rude.boot()
    for minutes, register_wh in ((30, 0), (20, 1_000), (10, 2_000)):
        await rude.meter(number, yard.ago(minutes), register_wh)
    await rude.stop(number, yard.clock.now(), 3_000)
    session = await rude.session()
    assert (session["state"], session["energy_wh"]) == ("ended", 5_000 + 3_000)
    assert "register_reset" in session["marks"]


async def test_a_placeholder_zero_before_the_lifetime_value_is_no_energy(yard: Yard) -> None:
    """12,000 kWh in a quarter of an hour cannot be: 32 A on three lines are 22 kW."""
    rude = await yard.newcomer()
    number = await rude.start(yard.ago(60), 0)
    for minutes, register_wh in ((45, 12_000_000), (30, 12_003_000)):
        await rude.meter(number, yard.ago(minutes), register_wh)
    await rude.stop(number, yard.clock.now(), 12_008_000)
    session = await rude.session()
    assert session["energy_wh"] == 8_000
    assert "placeholder_zero" in session["marks"]
    assert session["register_start_wh"] == 0, "what was told is kept"


async def test_a_single_wild_value_is_left_out_of_the_sum(yard: Yard) -> None:
    rude = await yard.newcomer()
    number = await rude.start(yard.ago(60))
    for minutes, register_wh in ((45, BEGIN_WH + 3_000), (30, 2_000_000_000), (15, BEGIN_WH + 6_000)):
        await rude.meter(number, yard.ago(minutes), register_wh)
    await rude.stop(number, yard.clock.now(), BEGIN_WH + 8_000)
    session = await rude.session()
    assert session["energy_wh"] == 8_000
    assert "implausible_value" in session["marks"]
    samples = await yard.rest.every(f"/sessions/{session['id']}/samples")
    assert 2_000_000_000 in [each["register_wh"] for each in samples]


@pytest.mark.parametrize(
    ("meter_stop", "energy_wh"),
    [
        pytest.param(BEGIN_WH + 5_800, 5_800, id="below the last sample, as of a little earlier"),
        pytest.param(17, 6_000, id="below the start"),
    ],
)
async def test_a_stop_value_below_what_was_seen_takes_nothing_away(
    yard: Yard, meter_stop: int, energy_wh: int
) -> None:
    rude = await yard.newcomer()
    number = await rude.start(yard.ago(60))
    await rude.meter(number, yard.ago(2), BEGIN_WH + 6_000)
    await rude.stop(number, yard.clock.now(), meter_stop)
    session = await rude.session()
    assert (session["state"], session["register_stop_wh"]) == ("ended", meter_stop)
    assert session["energy_wh"] == energy_wh
    assert session["marks"]


@pytest.mark.parametrize("year", [1970, 2000])
async def test_a_clock_that_was_never_set_is_mended_by_arrival(yard: Yard, year: int) -> None:
    rude = await yard.newcomer()
    answer = await rude.boot()
    assert datetime.fromisoformat(answer["currentTime"]) == yard.clock.now()
    assert answer["currentTime"].endswith("Z")
    never_set = datetime(year, 1, 1, 0, 1, tzinfo=UTC)
    number = await rude.start(never_set)
    await rude.stop(number, never_set + MINUTE, BEGIN_WH + 300)
    session = await rude.session()
    begun, ended = (datetime.fromisoformat(session[name]) for name in ("started_at", "ended_at"))
    assert begun == yard.clock.now()
    assert ended - begun == MINUTE
    assert "clock_off" in session["marks"]


async def test_a_boot_in_the_middle_of_a_charge_ends_nothing(yard: Yard) -> None:
    rude = await yard.newcomer()
    number = await rude.start(yard.ago(60))
    await rude.meter(number, yard.ago(30), BEGIN_WH + 3_000)
    assert (await rude.boot())["status"] == "Accepted"
    assert (await rude.session())["open"] is True
    await rude.stop(number, yard.clock.now(), BEGIN_WH + 5_000, reason="Reboot")
    session = await rude.session()
    assert (session["energy_wh"], session["stop_reason"], session["marks"]) == (5_000, "reboot", {})


@pytest.mark.parametrize("connector", [0, None], ids=["connector 0", "no connector"])
async def test_a_start_that_names_no_connector_is_on_the_only_one(yard: Yard, connector: int | None) -> None:
    rude = await yard.newcomer()
    start = rude.start_of(yard.ago(60))
    start = (
        {k: v for k, v in start.items() if k != "connectorId"}
        if connector is None
        else start | {"connectorId": 0}
    )
    answer = await rude.call("StartTransaction", start)
    assert answer["idTagInfo"]["status"] == "Accepted"
    assert await rude.meter(answer["transactionId"], yard.ago(30), BEGIN_WH + 2_000, connectorId=0) == {}
    session = await rude.session()
    assert (session["evse"], session["energy_wh"]) == (1, 2_000)


async def test_a_connector_that_nobody_planned_comes_into_being_unconfirmed(yard: Yard) -> None:
    rude = await yard.newcomer()
    status = {"connectorId": 2, "errorCode": "NoError", "status": "Available"}
    assert await rude.call("StatusNotification", status) == {}
    evses = (await yard.rest.get(f"/stations/{rude.station_id}/evses"))["items"]
    assert {each["number"]: each["confirmed"] for each in evses} == {1: True, 2: False}


async def test_a_stop_without_a_card_is_a_stop(yard: Yard) -> None:
    rude = await yard.newcomer()
    number = await rude.start(yard.ago(60))
    assert await rude.stop(number, yard.clock.now(), BEGIN_WH + 5_000, reason="EmergencyStop") == {}
    session = await rude.session()
    assert (session["state"], session["stop_reason"], session["marks"]) == ("ended", "emergency_stop", {})


async def test_one_measurand_several_times_in_a_message_is_told_apart(yard: Yard) -> None:
    """By context, line and place: the outlet's value without a line and of the moment counts."""
    rude = await yard.newcomer()
    number = await rude.start(yard.ago(60))
    energy = "Energy.Active.Import.Register"
    sampled = [
        {"value": "1", "measurand": energy, "location": "Inlet"},
        {"value": str(BEGIN_WH + 2_400), "measurand": energy, "context": "Sample.Clock"},
        {
            "value": str(BEGIN_WH + 2_500),
            "measurand": energy,
            "context": "Sample.Periodic",
            "location": "Outlet",
        },
        {"value": "2", "measurand": energy, "phase": "L1"},
        {"value": "3.3", "measurand": "Power.Active.Import", "unit": "kW", "phase": "L1"},
        {"value": "3.2", "measurand": "Power.Active.Import", "unit": "kW", "phase": "L2"},
        {"value": "3.1", "measurand": "Power.Active.Import", "unit": "kW", "phase": "L3"},
    ]
    assert await rude.samples(number, yard.ago(30), sampled) == {}
    session = await rude.session()
    assert session["energy_wh"] == 2_500
    samples = await yard.rest.every(f"/sessions/{session['id']}/samples")
    periodic = next(each for each in samples if each["context"] == "periodic")
    assert (periodic["register_wh"], periodic["power_w"]) == (BEGIN_WH + 2_500, 9_600.0)


async def test_hours_of_unsent_samples_at_once_are_stored_and_alarm_nobody(yard: Yard) -> None:
    rude = await yard.newcomer()
    number = await rude.start(yard.ago(10 * 60))
    posted = []
    for minutes in range(9 * 60, 0, -6):
        register_wh = BEGIN_WH + (10 * 60 - minutes) * 30
        value = {"timestamp": stamp(yard.ago(minutes)), "sampledValue": [{"value": str(register_wh)}]}
        body = {"connectorId": 1, "transactionId": number, "meterValue": [value]}
        posted.append(await rude.post("MeterValues", body))
    for message_id in posted:
        assert (await rude.answer(message_id))[0] == 3
    await rude.stop(number, yard.clock.now(), BEGIN_WH + 10 * 60 * 30)
    session = await rude.session()
    assert (session["energy_wh"], session["marks"]) == (18_000, {})
    assert len(await yard.rest.every(f"/sessions/{session['id']}/samples")) == len(posted) == 90
    assert await alarm_of(yard, rude.station_id) is None


async def test_a_clock_an_hour_ahead_is_mended_by_arrival_and_lengths_stay(yard: Yard) -> None:
    """As of a station that tells its summer time with a Z."""
    rude = await yard.newcomer()
    ahead = yard.clock.now() + timedelta(hours=1)
    number = await rude.start(ahead)
    yard.clock.advance(600)
    await rude.stop(number, ahead + timedelta(minutes=10), BEGIN_WH + 900)
    session = await rude.session()
    begun, ended = (datetime.fromisoformat(session[name]) for name in ("started_at", "ended_at"))
    assert begun == ahead - timedelta(hours=1)
    assert ended - begun == timedelta(minutes=10)
    assert (session["energy_wh"], "clock_off" in session["marks"]) == (900, True)
