"""Bad manners of form: units, times, texts, frames, floods, and what is wrong at the door.

Each is a conversation of a scripted socket with a whole node.
"""

import json
from contextlib import suppress
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus

from tests.scenarios.rest import Json, until
from tests.scenarios.rude import BEGIN_WH, VERSIONS, Rude, Yard, stamp

POWER = "Power.Active.Import"
ENERGY = "Energy.Active.Import.Register"
AMSTERDAM = ZoneInfo("Europe/Amsterdam")


# Units


async def charge_in(rude: Rude, energy_wh: float, power_w: float) -> int:
    """An hour and a quarter at 11.04 kW (16 A on three lines), told by those factors; the transaction."""
    number = await rude.start(rude.yard.ago(75), round(BEGIN_WH * energy_wh))
    for quarter in (1, 2, 3, 4):
        register = (BEGIN_WH + quarter * 2_760) * energy_wh
        sampled = [
            {"value": f"{register:.3f}", "measurand": ENERGY, "unit": "Wh"},
            {"value": f"{11_040 * power_w:.1f}", "measurand": POWER, "unit": "W"},
            {"value": "16.0", "measurand": "Current.Import", "unit": "A", "phase": "L1"},
        ]
        assert await rude.samples(number, rude.yard.ago(75 - 15 * quarter), sampled) == {}
    return number


async def test_kwh_labelled_wh_is_proposed_and_once_told_put_right_with_the_raw_value_kept(
    yard: Yard,
) -> None:
    model = {"chargePointVendor": "Weir", "chargePointModel": "Penstock 11", "firmwareVersion": "1.4.2"}
    rude = await yard.newcomer()
    await rude.boot(**model)
    # Whole kWh in a register of Wh would hide behind rounding: told with decimals at the start of its life.
    number = await rude.start(yard.ago(75), 0)
    for quarter in range(1, 5):
        sampled = [
            {"value": str(quarter * 3), "measurand": ENERGY, "unit": "Wh"},
            {"value": "12000", "measurand": POWER, "unit": "W"},
        ]
        await rude.samples(number, yard.ago(75 - 15 * quarter), sampled)
    proposal = await yard.fact("station.quirk_proposed", rude.station_id)
    assert proposal["energy_factor"] == 1000.0
    assert proposal["ratio"] == pytest.approx(1000, rel=0.01)
    assert (await rude.session())["energy_wh"] == 12, "nothing is applied by itself"
    await rude.stop(number, yard.clock.now(), 15)

    quirk = {"vendor": "weir", "model": "Penstock 11", "firmware": "1.4", "energy_factor": 1000.0}
    made = await yard.rest.post("/station-quirks", quirk)
    assert [each["id"] for each in (await yard.rest.get("/station-quirks"))["items"]] == [made["id"]]
    other = await yard.newcomer()
    await other.boot(**model)
    number = await charge_in(other, 0.001, 1.0)
    await other.stop(number, yard.clock.now(), 712)
    session = await other.session()
    assert session["register_start_wh"] == 700_000
    assert session["energy_wh"] == 12_000
    samples = await yard.rest.every(f"/sessions/{session['id']}/samples")
    assert sorted(each["register_wh"] for each in samples) == [702_760, 705_520, 708_280, 711_040]
    stored = await yard.node.central.sessions.samples(session["id"])
    raw = sorted(other[3] for one in stored.items for other in one.reading.others)
    assert raw == ["702.760", "705.520", "708.280", "711.040"], "what was told is kept"

    later = await yard.newcomer()
    await later.boot(**(model | {"firmwareVersion": "1.5.0"}))
    number = await charge_in(later, 1.0, 1.0)
    assert (await later.session())["energy_wh"] == 4 * 2_760, "mended by its maker"
    await yard.rest.send("DELETE", f"/station-quirks/{made['id']}")
    assert (await yard.rest.get("/station-quirks"))["items"] == []


async def test_a_current_labelled_w_is_put_right_by_a_factor(yard: Yard) -> None:
    model = {"chargePointVendor": "Weir", "chargePointModel": "Millrace 11"}
    rude = await yard.newcomer()
    await rude.boot(**model)
    await charge_in(rude, 1.0, 16 / 11_040)
    proposal = await yard.fact("station.quirk_proposed", rude.station_id)
    assert proposal["power_factor"] == 690.0
    quirk = {"vendor": "Weir", "model": "Millrace 11", "power_factor": 690.0}
    await yard.rest.post("/station-quirks", quirk)
    other = await yard.newcomer()
    await other.boot(**model)
    await charge_in(other, 1.0, 16 / 11_040)
    session = await other.session()
    samples = await yard.rest.every(f"/sessions/{session['id']}/samples")
    assert {each["power_w"] for each in samples} == {11_040.0}


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"energy_factor": 1000.0}, "vendor"),
        ({"vendor": "Weir"}, "energy_factor"),
        ({"vendor": "Weir", "energy_factor": 0}, "energy_factor"),
        ({"vendor": "Weir", "zone": "Weavers/Yard"}, "zone"),
        ({"vendor": "Weir", "false_z": True}, "zone"),
    ],
)
async def test_a_quirk_that_puts_nothing_right_is_refused(yard: Yard, body: Json, field: str) -> None:
    answer = await yard.rest.answer("POST", "/station-quirks", body)
    assert (answer.status_code, answer.json()["field"]) == (422, field)


# Times


@pytest.mark.parametrize("ending", ["", "Z"], ids=["no zone", "a false Z"])
async def test_local_times_are_put_right_by_a_quirk_that_names_the_zone(yard: Yard, ending: str) -> None:
    model = {"chargePointVendor": "Weir", "chargePointModel": f"Lade{ending}"}
    quirk = {"vendor": "Weir", "model": f"Lade{ending}", "zone": "Europe/Amsterdam", "false_z": bool(ending)}
    await yard.rest.post("/station-quirks", quirk)
    rude = await yard.newcomer()
    await rude.boot(**model)

    def local(minutes: float) -> str:
        at: datetime = yard.ago(minutes).astimezone(AMSTERDAM)
        return at.replace(tzinfo=None).isoformat() + ending

    start = rude.start_of(yard.ago(60)) | {"timestamp": local(60)}
    number = (await rude.call("StartTransaction", start))["transactionId"]
    await rude.samples(number, local(30), [{"value": str(BEGIN_WH + 2_000)}])
    stop = {"transactionId": number, "meterStop": BEGIN_WH + 5_000, "timestamp": local(5)}
    await rude.call("StopTransaction", stop)
    session = await rude.session()
    assert (session["started_at"], session["ended_at"]) == (stamp(yard.ago(60)), stamp(yard.ago(5)))
    assert (session["energy_wh"], session["marks"]) == (5_000, {})


@pytest.mark.parametrize(
    "shape",
    ["%Y-%m-%d %H:%M:%SZ", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%dT%H:%M:%S.1234567Z", "%Y-%m-%dT%H:%M:%S+00:00",
     "%Y-%m-%dt%H:%M:%Sz"],
)  # fmt: skip
async def test_odd_spellings_of_a_time_mean_that_time(yard: Yard, shape: str) -> None:
    rude = await yard.newcomer()
    at = yard.ago(30)
    start = rude.start_of(at) | {"timestamp": at.strftime(shape)}
    assert (await rude.call("StartTransaction", start))["idTagInfo"]["status"] == "Accepted"
    begun = datetime.fromisoformat((await rude.session())["started_at"])
    assert begun.replace(microsecond=0) == at
    told = (await rude.call("Heartbeat", {}))["currentTime"]
    assert told.endswith("Z")
    assert len(told) <= len("2026-11-12T18:30:00.000Z")


# Texts and types


async def test_empty_padded_and_mistyped_values_are_put_right(yard: Yard) -> None:
    rude = await yard.newcomer()
    padding = {
        "chargePointSerialNumber": "",
        "firmwareVersion": " 1.0\x00\x00 ",
        "iccid": "",
        "meterType": None,
    }
    assert (await rude.boot(**padding))["status"] == "Accepted"
    station = await yard.rest.get(f"/stations/{rude.station_id}")
    assert (station["serial"], station["firmware"]) == ("", "1.0")
    start = rude.start_of(yard.ago(60)) | {
        "connectorId": "1",
        "meterStart": str(BEGIN_WH),
        "idTag": f" {rude.card}\x00",
        "reservationId": "",
    }
    told = await rude.call("StartTransaction", start)
    assert told["idTagInfo"]["status"] == "Accepted"
    sampled = [{"value": BEGIN_WH + 2_000, "phase": "", "unit": "Wh", "context": ""}]
    assert await rude.samples(told["transactionId"], yard.ago(30), sampled) == {}
    stop = {"meterStop": f"{BEGIN_WH + 5_000}.0", "transactionId": str(told["transactionId"]), "idTag": ""}
    assert await rude.call("StopTransaction", stop | {"timestamp": stamp(yard.clock.now())}) == {}
    session = await rude.session()
    assert (session["state"], session["energy_wh"], session["marks"]) == ("ended", 5_000, {})


async def test_words_that_the_standard_does_not_have_stop_nothing(yard: Yard) -> None:
    rude = await yard.newcomer()
    told = await rude.boot(chargePointSerialNumber="7" * 300, firmwareVersion="v" * 90, colour="green")
    assert told["status"] == "Accepted"
    assert len((await yard.rest.get(f"/stations/{rude.station_id}"))["serial"]) == 255
    number = await rude.start(yard.ago(60), mood="cheerful")
    sampled: list[Json] = [
        {"value": "50.0", "measurand": "Frequency", "unit": "Hz"},
        {"value": "7", "measurand": "Weir.Own", "context": "Weir.Sometimes", "location": "Roof"},
        {
            "value": f"{BEGIN_WH + 2_000}",
            "measurand": ENERGY.upper(),
            "unit": "WH",
            "context": "sample.periodic",
        },
    ]
    assert await rude.samples(number, yard.ago(30), sampled) == {}
    status = {"connectorId": 1, "errorCode": "WeirTooHigh", "status": "charging", "info": "x" * 200}
    assert await rude.call("StatusNotification", status) == {}
    assert (await rude.session())["energy_wh"] == 2_000
    (evse,) = (await yard.rest.get(f"/stations/{rude.station_id}/evses"))["items"]
    assert (evse["status"], evse["error"]) == ("charging", "WeirTooHigh")
    stop = await rude.stop(number, yard.clock.now(), BEGIN_WH + 5_000, reason="Bored")
    assert stop == {}
    session = await rude.session()
    assert (session["energy_wh"], session["stop_reason"]) == (5_000, "other")


async def test_a_card_in_another_spelling_is_the_same_card_and_a_number_is_not_guessed(yard: Yard) -> None:
    rude = await yard.newcomer()
    for spelled in (
        rude.card.lower(),
        f"{rude.card[:2]}:{rude.card[2:]}",
        f"{rude.card[:4]}-{rude.card[4:]}",
    ):
        told = await rude.call("Authorize", {"idTag": spelled})
        assert told["idTagInfo"]["status"] == "Accepted", spelled
    swapped = "".join(reversed([rude.card[n : n + 2] for n in range(0, 8, 2)]))
    for other in (str(int(rude.card, 16)), swapped):
        assert (await rude.call("Authorize", {"idTag": other}))["idTagInfo"]["status"] == "Invalid", other
        # What it is called elsewhere is told once, not guessed.
        await yard.rest.post("/tokens", {"text": other, "member_id": "rude"})
        assert (await rude.call("Authorize", {"idTag": other}))["idTagInfo"]["status"] == "Accepted", other


# Frames


@pytest.mark.parametrize("version", VERSIONS)
async def test_frames_that_are_no_frames_end_nothing_and_are_kept(yard: Yard, version: str) -> None:
    rude = await yard.newcomer(version)
    bad: list[str | bytes] = [
        "Hello?",
        '[2,"m","Heartbeat",{', '[,2,"m","Heartbeat",{}]', '[2,"a","Heartbeat",{}][2,"b","Heartbeat",{}]',
        b"\x02\x00", '"text"', "[]", '{"2":1}', "[" * 50_000, '[3,"nothing",{}]',
    ]  # fmt: skip
    for frame in bad:
        await rude.say(frame)
    assert "currentTime" in await rude.call("Heartbeat", {})
    errors = [frame for frame in rude.frames if frame[0] == 4]
    if version == "1.6":
        assert [(frame[1], frame[2]) for frame in errors] == [
            ("m", "FormationViolation"),
            ("a", "FormationViolation"),
        ]
    else:
        assert {(frame[1], frame[2]) for frame in errors} == {("-1", "RpcFrameworkError")}
    assert len(await rude.kept()) == len(bad) - 1, "an answer to nothing is counted, not kept"


async def test_a_stream_of_garbage_is_hung_up_on(yard: Yard) -> None:
    rude = await yard.newcomer()
    for number in range(yard.node.settings.garbage_limit):
        await rude.say(f"garbage {number}")
    assert await rude.ended() == (1008, "too many unreadable messages")
    await rude.dial()
    assert "currentTime" in await rude.call("Heartbeat", {})


async def test_a_frame_of_the_quarantine_is_replayed_once_it_is_mended(yard: Yard) -> None:
    rude = await yard.newcomer()
    number = await rude.start(yard.ago(60))
    stop = {"transactionId": number, "meterStop": BEGIN_WH + 5_000, "timestamp": stamp(yard.clock.now())}
    broken = json.dumps([2, "m9", "StopTransaction", stop])[:-1]  # a bracket is missing
    await rude.say(broken)
    assert (await rude.answer("m9"))[2] == "FormationViolation"
    yard.clock.advance(600)
    (kept,) = await rude.kept()
    path = f"/stations/{rude.station_id}/quarantine/{kept['id']}"
    assert (await yard.rest.post(f"{path}/replay"))["outcome"] == "unreadable"
    assert (await rude.session())["open"] is True
    assert (await rude.kept())[0]["outcome"].startswith("unreadable: ")
    told = await yard.rest.post(f"{path}/replay", {"frame": broken + "]"})
    assert (told["outcome"], told["action"], told["answer"]) == ("taken", "StopTransaction", {})
    session = await rude.session()
    assert (session["state"], session["energy_wh"], session["ended_at"]) == (
        "ended",
        5_000,
        stop["timestamp"],
    )
    (kept,) = await rude.kept()
    assert (kept["outcome"], kept["frame"]) == ("taken", broken)
    assert (await yard.rest.answer("POST", f"{path}/replay")).status_code == 409
    await yard.rest.send("DELETE", path)
    assert await rude.kept() == []
    assert (await yard.rest.answer("DELETE", path)).status_code == 404


async def test_a_question_of_long_ago_is_not_replayed(yard: Yard) -> None:
    rude = await yard.newcomer()
    await rude.say('[2,"m","Authorize",{"idTag":"x"}')
    await rude.call("Heartbeat", {})
    (kept,) = await rude.kept()
    path = f"/stations/{rude.station_id}/quarantine/{kept['id']}/replay"
    answer = await yard.rest.answer("POST", path, {"frame": '[2,"m","Authorize",{"idTag":"x"}]'})
    assert (answer.status_code, answer.json()["field"]) == (422, "frame")


# Size and haste


async def test_the_stop_of_a_day_long_session_of_2_4_million_characters_is_taken(yard: Yard) -> None:
    """A day of twelve values a minute."""
    rude = await yard.newcomer()
    number = await rude.start(yard.ago(24 * 60))
    named = [(ENERGY, None), *((f"Weir.Value.{n}", "L1") for n in range(11))]
    data = []
    for minute in range(24 * 60):
        at = stamp(yard.ago(24 * 60 - minute))
        sampled = [
            {"value": str(BEGIN_WH + minute * 10), "measurand": name, "context": "Sample.Periodic"}
            | ({} if phase is None else {"phase": phase, "format": "Raw", "location": "Outlet"})
            for name, phase in named
        ]  # fmt: skip
        data.append({"timestamp": at, "sampledValue": sampled})
    stop = {"transactionId": number, "meterStop": BEGIN_WH + 14_400, "timestamp": stamp(yard.clock.now())}
    stop["transactionData"] = data
    assert len(json.dumps(stop)) > 2_000_000
    assert await rude.call("StopTransaction", stop) == {}
    session = await rude.session()
    assert (session["state"], session["energy_wh"], session["marks"]) == ("ended", 14_400, {})


async def test_a_giant_frame_and_a_deep_one_cost_nobody_else_anything(yard: Yard) -> None:
    rude, other = await yard.newcomer(), await yard.newcomer()
    number = await rude.start(yard.ago(60))
    await rude.say('[2,"deep","DataTransfer",{"data":' + "[" * 100_000)
    assert (await rude.answer("deep"))[2] == "FormationViolation"
    with suppress(ConnectionClosed):
        await rude.say('[2,"big","DataTransfer",{"data":"' + "x" * 4_500_000 + '"}]')
    assert (await rude.ended())[0] == 1009
    assert "currentTime" in await other.call("Heartbeat", {})
    await rude.dial()
    await rude.stop(number, yard.clock.now(), BEGIN_WH + 5_000)
    assert (await rude.session())["energy_wh"] == 5_000


async def test_a_storm_of_messages_is_slowed_down_and_nothing_of_it_is_lost(yard: Yard) -> None:
    """Beyond its allowance we stop reading, and the station waits; others are served meanwhile."""
    rude, other = await yard.newcomer(), await yard.newcomer()
    number = await rude.start(yard.ago(60))
    for each in range(1_100):
        await rude.post("Heartbeat", {}, f"storm-{each}")
    register = {"timestamp": stamp(yard.ago(30)), "sampledValue": [{"value": str(BEGIN_WH + 2_000)}]}
    sample = {"connectorId": 1, "transactionId": number, "meterValue": [register]}
    posted = await rude.post("MeterValues", sample)
    assert "currentTime" in await other.call("Heartbeat", {})
    answered = {frame[1] for frame in rude.frames}
    assert posted not in answered, "it has to wait"

    async def served() -> bool | None:
        yard.clock.advance(1)
        return True if any(frame[1] == posted for frame in rude.frames) else None

    await until(served, "the end of the storm", timeout_s=60)
    assert {f"storm-{each}" for each in range(1_100)} <= {frame[1] for frame in rude.frames}
    assert (await rude.session())["energy_wh"] == 2_000


# At the door


async def test_two_sockets_of_one_identity_the_newest_counts(yard: Yard) -> None:
    rude = await yard.newcomer()
    older = rude.socket
    assert older is not None
    await rude.dial()
    await older.wait_closed()
    assert older.close_code == 4001
    assert "currentTime" in await rude.call("Heartbeat", {})
    assert (await yard.rest.get(f"/stations/{rude.station_id}"))["connected"] is True
    assert await rude.facts("station.duplicate_identity") == []


async def test_one_identity_from_two_addresses_in_turn_is_told_and_alarms(yard: Yard) -> None:
    rude = await yard.newcomer(dial=False)
    for turn in range(5):
        await rude.dial(local_addr=(f"127.0.0.{1 + turn % 2}", 0))
        assert "currentTime" in await rude.call("Heartbeat", {})
    fact = await yard.fact("station.duplicate_identity", rude.station_id)
    assert fact["addresses"] == ["127.0.0.1", "127.0.0.2"]

    async def alarm() -> str | None:
        found = await yard.rest.every(f"/alarms?station={rude.station_id}&kind=duplicate_identity")
        return found[0]["kind"] if found else None

    assert await until(alarm, "an alarm", timeout_s=60)


@pytest.mark.parametrize("path", ["/ocpp/{}/", "/ocpp//{}", "/ocpp/{}?x=1", "/ocpp/rude%2D{n}"])
async def test_paths_with_slashes_queries_and_encoded_signs_are_understood(yard: Yard, path: str) -> None:
    rude = await yard.newcomer(dial=False)
    number = rude.station_id.removeprefix("rude-")
    await rude.dial(path=path.format(rude.station_id, n=number))
    assert "currentTime" in await rude.call("Heartbeat", {})


async def test_a_subprotocol_in_another_case_or_behind_unknown_ones_is_understood(yard: Yard) -> None:
    rude = await yard.newcomer(dial=False)
    for offers in (("OCPP1.6",), ("ocpp9.9", "ocpp1.6")):
        await rude.dial(offers=offers)
        assert rude.socket is not None
        assert rude.socket.subprotocol == offers[-1]
        assert "currentTime" in await rude.call("Heartbeat", {})


async def test_no_subprotocol_is_let_in_only_where_1_6_is_to_be_assumed(yard: Yard) -> None:
    rude = await yard.newcomer(dial=False)
    await rude.dial(offers=())
    assert (await rude.ended())[0] == 1002
    path = f"/stations/{rude.station_id}/manners"
    assert await yard.rest.get(path) == {"assume_16": False}
    await yard.rest.send("PUT", path, {"assume_16": True})
    await rude.dial(offers=())
    assert rude.socket is not None
    assert rude.socket.subprotocol is None
    assert (await rude.boot())["status"] == "Accepted"
    assert (await yard.rest.get(f"/stations/{rude.station_id}"))["protocol"] == "1.6"


async def test_versions_may_differ_between_connections(yard: Yard) -> None:
    rude = await yard.newcomer("1.6")
    assert (await rude.boot())["status"] == "Accepted"
    await rude.hang_up()
    rude.version = VERSIONS["2.0.1"]
    await rude.dial()
    boot = {"reason": "PowerUp", "chargingStation": {"vendorName": "Weir", "model": "Sluice 22"}}
    assert (await rude.call("BootNotification", boot))["status"] == "Accepted"


async def test_a_hex_key_is_right_as_text_of_either_case_and_as_bytes(yard: Yard) -> None:
    rude = await yard.newcomer(dial=False)
    key = "0001020304050607ffffffffffffffffffffffff"
    await yard.rest.post(f"/stations/{rude.station_id}/key", {"key": key})
    for secret in (key.encode(), key.upper().encode(), bytes.fromhex(key)):
        await rude.dial(secret=secret)
        assert "currentTime" in await rude.call("Heartbeat", {})
    with pytest.raises(InvalidStatus):
        await rude.dial(secret=b"0" * 40)


async def test_no_compression_is_agreed_to_with_1_6(yard: Yard) -> None:
    rude = await yard.newcomer()
    assert rude.socket is not None
    assert rude.socket.response is not None
    assert "Sec-WebSocket-Extensions" not in rude.socket.response.headers
    assert timedelta(0) == rude.now - yard.clock.now()
