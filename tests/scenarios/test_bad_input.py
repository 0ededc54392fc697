"""Whatever comes in has a defined answer, harms nobody else, and loses nothing of a transaction."""

import asyncio
import base64
import contextlib
import uuid
from collections.abc import AsyncIterator
from datetime import UTC, datetime, timedelta

import orjson
import pytest
from ocpp.exceptions import SecurityError
from ocpp.v16 import call as call16
from websockets.asyncio.client import connect
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.typing import Subprotocol

from api.node import Node
from tests.scenarios.charger import Charger, Values
from tests.scenarios.charger16 import Charger16
from tests.scenarios.charger201 import Charger201
from tests.scenarios.rest import Json, Rest, until
from tests.scenarios.site import CARDS, SITE, make_station, member_of, password

BEGIN_WH = 700_000
BOTH = pytest.mark.parametrize("version", ["1.6", "2.0.1"])
BYSTANDER = "corner-beside"


@pytest.fixture(autouse=True)
async def bystander(node: Node, rest: Rest) -> AsyncIterator[Charger]:
    """A third station that charges meanwhile. Afterwards its session is whole, on the same socket."""
    await make_station(rest, BYSTANDER)
    await rest.post("/tokens", {"text": "BE51DE", "member_id": member_of("corner-16")})
    charger = Charger16(node.ocpp_url, BYSTANDER, password(BYSTANDER))
    clock = node.central.clock
    await charger.dial()
    await charger.boot()
    begin = clock.now() - timedelta(hours=1)
    assert (await charger.start("BE51DE", begin, BEGIN_WH))[1] == "Accepted"
    yield charger
    assert (await rest.get("/health"))["status"] == "good"
    await charger.meter(Values(at=clock.now(), register_wh=BEGIN_WH + 4_000, current_a=6.0))
    await charger.stop(clock.now(), BEGIN_WH + 4_321)
    (session,) = await rest.sessions(BYSTANDER)
    assert (session["state"], session["energy_wh"], session["marks"]) == ("ended", 4_321, {})
    await charger.hang_up()


async def bring_up(charger: Charger) -> None:
    await charger.dial()
    assert (await charger.boot())[0] == "Accepted"


class Charging:
    """A session of the station that gets into trouble; `finish` proves that nothing of it is lost."""

    def __init__(self, charger: Charger, node: Node, rest: Rest) -> None:
        self.charger, self.clock, self.rest = charger, node.central.clock, rest

    async def begin(self) -> "Charging":
        begin = self.clock.now() - timedelta(hours=1)
        await self.charger.start(CARDS[self.charger.station_id], begin, BEGIN_WH)
        await self.charger.meter(
            Values(at=begin + timedelta(minutes=30), register_wh=BEGIN_WH + 8_000, current_a=25.0)
        )
        return self

    async def finish(self) -> Json:
        await self.charger.stop(self.clock.now(), BEGIN_WH + 16_789)
        (session,) = await self.rest.sessions(self.charger.station_id)
        assert (session["state"], session["energy_wh"]) == ("ended", 16_789)
        return session


# At the door


async def refusal(node: Node, path: str, headers: dict[str, str] | None = None) -> InvalidStatus:
    with pytest.raises(InvalidStatus) as refused:
        await connect(
            node.ocpp_url + path,
            subprotocols=[Subprotocol("ocpp1.6"), Subprotocol("ocpp2.0.1")],
            additional_headers=headers or {},
            proxy=None,
        )
    return refused.value


def basic(user: str, secret: str) -> dict[str, str]:
    return {"Authorization": "Basic " + base64.b64encode(f"{user}:{secret}".encode()).decode()}


async def test_an_unknown_station_is_not_found(node: Node) -> None:
    for identity in ("corner-99", "corner-16%2Fx", "", "../v1/health", "%ff"):
        refused = await refusal(node, identity, basic("corner-99", password("corner-16")))
        assert refused.response.status_code == 404, identity


async def test_a_wrong_password_is_unauthorized(node: Node, rest: Rest) -> None:
    wrong = {
        "none": {},
        "guessed": basic("corner-16", "guessed"),
        "empty": basic("corner-16", ""),
        "of another station": basic("corner-201", password("corner-201")),
        "no base64": {"Authorization": "Basic %%%"},
        "not Basic": {"Authorization": f"Bearer {password('corner-16')}"},
    }
    for sort, headers in wrong.items():
        refused = await refusal(node, "corner-16", headers)
        assert refused.response.status_code == 401, sort
        assert refused.response.headers["WWW-Authenticate"].startswith("Basic "), sort
    assert (await rest.get("/stations/corner-16"))["connected"] is False


# Frames

Answer = tuple[str, str] | None

FORMATION: Answer = ("m1", "FormationViolation")
UNREADABLE: Answer = ("-1", "RpcFrameworkError")
MALFORMED: dict[str, tuple[str | bytes, Answer, Answer]] = {
    # What is sent, and the CALLERROR of 1.6 and of 2.0.1: id and code. None: nobody could read an answer.
    # OCPP-J 1.6 section 4 with its spelling of the codes; OCPP 2.0.1 part 4, sections 4.2.3 and 4.3.
    "no JSON": ("Hello?", None, UNREADABLE),
    "half a call": ('[2,"m1","Heartbeat",{', FORMATION, UNREADABLE),
    "no array": ('{"action":"Heartbeat"}', None, UNREADABLE),
    "an empty array": ("[]", None, UNREADABLE),
    "no id": ('[2,7,"Heartbeat",{}]', None, UNREADABLE),
    "too few elements": ('[2,"m1","Heartbeat"]', FORMATION, ("m1", "FormatViolation")),
    "a payload that is a list": ('[2,"m1","Heartbeat",[1]]', FORMATION, ("m1", "FormatViolation")),
    "no such message type": ('[9,"m1","Heartbeat",{}]', None, ("m1", "MessageTypeNotSupported")),
    "no such action": ('[2,"m1","Levitate",{}]', ("m1", "NotImplemented"), ("m1", "NotImplemented")),
    "not a number of JSON": ('[2,"m1","Heartbeat",{"x":NaN}]', FORMATION, UNREADABLE),
    "too deep": (f'[2,"m1","DataTransfer",{"[" * 5000}{"]" * 5000}]', FORMATION, UNREADABLE),
    "bytes": (b"\x00\xff[2]", None, None),
}


@BOTH
async def test_a_malformed_frame_is_answered_by_the_standards_code_and_kept(
    version: str, node: Node, rest: Rest, chargers: dict[str, Charger]
) -> None:
    """One after the other on one socket, in the middle of a session."""
    charger = chargers[version]
    await bring_up(charger)
    session = await Charging(charger, node, rest).begin()
    answers: dict[str, Answer] = {}
    for sort, (frame, _, _) in MALFORMED.items():
        before = len(charger.talk.frames)
        await charger.say(frame)
        await charger.heartbeat()  # what comes is answered in turn
        errors = [(told[1], told[2]) for told in charger.talk.frames[before:] if told[0] == 4]
        assert len(errors) <= 1, (sort, errors)
        answers[sort] = errors[0] if errors else None
    wanted = {sort: a16 if version == "1.6" else a201 for sort, (_, a16, a201) in MALFORMED.items()}
    assert answers == wanted
    await session.finish()
    kept = await rest.every(f"/stations/{charger.station_id}/quarantine")
    said = [frame for frame, *_ in MALFORMED.values()]
    assert [each["frame"] for each in reversed(kept) if "\\x" not in each["frame"]] == said[:-1]
    assert kept[0]["frame"] == "\x00\\xff[2]"
    assert all(each["reason"] for each in kept)


@BOTH
async def test_a_stream_of_garbage_costs_the_socket_and_nothing_else(
    version: str, node: Node, rest: Rest, chargers: dict[str, Charger]
) -> None:
    charger = chargers[version]
    await bring_up(charger)
    session = await Charging(charger, node, rest).begin()
    for number in range(node.settings.garbage_limit):
        await charger.say(f"garbage {number}")
    assert await charger.ended() == (1008, "too many unreadable messages")
    await charger.hang_up()
    await charger.dial()  # no boot: accepted is the station, not its socket
    await session.finish()


@BOTH
async def test_a_giant_frame_is_not_read_and_the_session_goes_on(
    version: str, node: Node, rest: Rest, chargers: dict[str, Charger]
) -> None:
    charger = chargers[version]
    await bring_up(charger)
    session = await Charging(charger, node, rest).begin()
    giant = orjson.dumps([2, "m1", "DataTransfer", {"vendorId": "Weir", "data": "x" * 5_000_000}]).decode()
    with contextlib.suppress(ConnectionClosed):  # it may be closed while we still send
        await charger.say(giant)
    assert (await charger.ended())[0] == 1009
    await charger.hang_up()
    await charger.dial()
    await session.finish()
    (kept,) = await rest.every(f"/stations/{charger.station_id}/quarantine")
    assert "limit" in kept["reason"]


@BOTH
async def test_a_call_that_breaks_the_schema_is_refused_but_its_energy_is_not(
    version: str, node: Node, rest: Rest, chargers: dict[str, Charger]
) -> None:
    """A refusal could make the station drop it: what is about a transaction gets a result."""
    charger = chargers[version]
    await bring_up(charger)
    session = await Charging(charger, node, rest).begin()
    await charger.say('[2,"m1","StatusNotification",{"connectorId":"one"}]')
    assert (await charger.heard("m1"))[0] == 4
    action = {"1.6": "MeterValues", "2.0.1": "TransactionEvent"}[version]
    await charger.say(orjson.dumps([2, "m2", action, {"connectorId": "one", "meterValue": "many"}]).decode())
    assert await charger.heard("m2") == [3, "m2", {}]
    await session.finish()
    reasons = [kept["reason"] for kept in await rest.every(f"/stations/{charger.station_id}/quarantine")]
    assert len(reasons) == 2
    assert any(action in reason for reason in reasons)


@BOTH
async def test_before_it_is_accepted_a_station_may_only_boot_and_loses_nothing(
    version: str, node: Node, rest: Rest, chargers: dict[str, Charger]
) -> None:
    charger, now = chargers[version], node.central.clock.now()
    path = f"/stations/{charger.station_id}"
    await rest.send("PATCH", path, {"registration": "pending"})
    await charger.dial()
    begin = now - timedelta(hours=1)

    the_start = CARDS[charger.station_id], begin, BEGIN_WH
    with pytest.raises(SecurityError):
        await charger.start(*the_start)
    with pytest.raises(SecurityError):
        await charger.available(now)
    assert (await charger.boot())[0] == "Pending"
    with pytest.raises(SecurityError):
        await charger.start(*the_start)
    assert await rest.sessions(charger.station_id) == []

    await rest.send("PATCH", path, {"registration": "accepted"})
    assert (await charger.boot())[0] == "Accepted"
    assert (await charger.start(*the_start))[1] == "Accepted"  # the station kept it and says it again
    await charger.stop(now, BEGIN_WH + 10_000)
    (session,) = await rest.sessions(charger.station_id)
    assert (session["energy_wh"], session["marks"]) == (10_000, {})


@BOTH
async def test_an_unknown_card_is_refused_shown_adopted_and_then_accepted(
    version: str, rest: Rest, chargers: dict[str, Charger]
) -> None:
    charger = chargers[version]
    await bring_up(charger)
    refused = "Invalid" if version == "1.6" else "Unknown"
    assert await charger.authorize("04C0FFEE") == refused
    assert await charger.authorize("04c0ffee") == refused
    (card,) = (await rest.get(f"/unknown-cards?site={SITE}"))["items"]
    assert (card["folded"], card["station_id"], card["times"]) == ("04c0ffee", charger.station_id, 2)
    adoption = {"member_id": member_of("corner-16"), "label": "the second card"}
    token = await rest.post(f"/unknown-cards/{card['text']}/adopt", adoption)
    assert (token["member_id"], token["label"]) == (adoption["member_id"], adoption["label"])
    assert (await rest.get(f"/unknown-cards?site={SITE}"))["items"] == []
    assert await charger.authorize("04C0FFEE") == "Accepted"


@BOTH
async def test_a_charge_with_an_unknown_card_is_refused_and_recorded(
    version: str, node: Node, rest: Rest, chargers: dict[str, Charger]
) -> None:
    """A station may have started by its own cache: what it gave out is a fact."""
    charger, now = chargers[version], node.central.clock.now()
    await bring_up(charger)
    _, verdict = await charger.start("04C0FFEE", now - timedelta(minutes=10), BEGIN_WH)
    assert verdict == ("Invalid" if version == "1.6" else "Unknown")
    await charger.stop(now, BEGIN_WH + 250)
    (session,) = await rest.sessions(charger.station_id)
    assert (session["energy_wh"], session["verdict"], session["member_id"]) == (250, "unknown", None)
    month = await rest.get(f"/reports/month?site={SITE}&month={session['ended_at'][:7]}")
    (nobody,) = month["unknown"]
    assert (nobody["sessions"], nobody["energy_wh"]) == (1, 250)


async def test_a_stop_of_an_unknown_transaction_is_answered_and_ends_nobodys_session(
    node: Node, rest: Rest, chargers: dict[str, Charger]
) -> None:
    charger, now = chargers["1.6"], node.central.clock.now()
    await bring_up(charger)
    session = await Charging(charger, node, rest).begin()
    for transaction_id in (987_654, -1, 0):
        # Its register is below the start of the session that runs: it cannot be that one's end.
        stop = call16.StopTransaction(
            transaction_id=transaction_id, meter_stop=12, timestamp=now.isoformat(), reason="Local"
        )
        await charger.call(stop)
    (running,) = await rest.sessions(charger.station_id)
    assert (running["open"], running["energy_wh"]) == (True, 8_000)
    orphans = await rest.every(f"/events?site={SITE}&topic=session.orphan")
    assert len(orphans) == 3
    assert all("fits no session" in fact["body"]["reason"] for fact in orphans)
    assert (await session.finish())["marks"] == {}


async def test_an_end_of_an_unknown_transaction_of_2_0_1_is_kept_as_a_session_of_its_own(
    node: Node, rest: Rest, chargers: dict[str, Charger]
) -> None:
    """Its ids are made by the station, so it may be one whose start was lost: energy is not thrown away."""
    charger = chargers["2.0.1"]
    assert isinstance(charger, Charger201)
    await bring_up(charger)
    await Charging(charger, node, rest).begin()
    known, charger.transaction_id = charger.transaction_id, str(uuid.uuid4())
    await charger.stop(node.central.clock.now() - timedelta(hours=3), BEGIN_WH - 5_000)
    odd = next(one for one in await rest.sessions(charger.station_id) if one["transaction_id"] != known)
    assert (odd["state"], odd["energy_wh"]) == ("ended", 0)
    assert "no_start_seen" in odd["marks"]
    charger.transaction_id = known
    await charger.stop(node.central.clock.now(), BEGIN_WH + 16_789)
    ours = next(one for one in await rest.sessions(charger.station_id) if one["transaction_id"] == known)
    assert (ours["state"], ours["energy_wh"]) == ("ended", 16_789)


# What cannot be


@BOTH
async def test_a_register_that_goes_backwards_is_marked_and_never_negative(
    version: str, node: Node, rest: Rest, chargers: dict[str, Charger]
) -> None:
    """A meter changed in the middle: 5,000 Wh by the old one, and 100 to 4,100 Wh by the new one."""
    charger, now = chargers[version], node.central.clock.now()
    await bring_up(charger)
    begin = now - timedelta(hours=1)
    await charger.start(CARDS[charger.station_id], begin, BEGIN_WH)
    for minutes, register_wh in ((20, BEGIN_WH + 5_000), (30, 100), (45, 3_100)):
        at = begin + timedelta(minutes=minutes)
        await charger.meter(Values(at=at, register_wh=register_wh, current_a=16.0))
    await charger.stop(now, 4_100)
    (session,) = await rest.sessions(charger.station_id)
    assert session["energy_wh"] == 5_000 + 4_000
    assert "register_reset" in session["marks"]


@BOTH
async def test_a_stop_below_the_start_is_no_negative_energy(
    version: str, node: Node, rest: Rest, chargers: dict[str, Charger]
) -> None:
    charger, now = chargers[version], node.central.clock.now()
    await bring_up(charger)
    await charger.start(CARDS[charger.station_id], now - timedelta(hours=1), BEGIN_WH)
    await charger.stop(now, 17)
    (session,) = await rest.sessions(charger.station_id)
    assert (session["state"], session["energy_wh"]) == ("ended", 0)
    assert "register_reset" in session["marks"]

    async def price() -> str | None:
        (found,) = await rest.sessions(charger.station_id)
        return str(found["cost_excl"]) if found["cost_excl"] is not None else None

    assert await until(price, "a price") == "0.50"  # the fee, and no energy


@BOTH
async def test_a_clock_at_1970_is_mended_by_arrival_and_the_distances_stay(
    version: str, node: Node, rest: Rest, chargers: dict[str, Charger]
) -> None:
    charger, now = chargers[version], node.central.clock.now()
    await bring_up(charger)
    never_set = datetime(1970, 1, 1, 0, 0, 10, tzinfo=UTC)
    assert (await charger.start(CARDS[charger.station_id], never_set, BEGIN_WH))[1] == "Accepted"
    half = never_set + timedelta(seconds=45)
    await charger.meter(Values(at=half, register_wh=BEGIN_WH + 200, current_a=25.0))
    await charger.stop(never_set + timedelta(seconds=90), BEGIN_WH + 400)
    (session,) = await rest.sessions(charger.station_id)
    begin, end = (datetime.fromisoformat(session[name]) for name in ("started_at", "ended_at"))
    assert (timedelta() <= begin - now < timedelta(minutes=2), end - begin) == (True, timedelta(seconds=90))
    assert (session["energy_wh"], "clock_off" in session["marks"]) == (400, True)
    report = await rest.get(f"/reports/month?site={SITE}&month={session['ended_at'][:7]}")
    assert report["totals"][0]["energy_wh"] == 400


async def test_all_of_it_at_once_leaves_the_others_alone(
    node: Node, rest: Rest, chargers: dict[str, Charger]
) -> None:
    """Eight sockets that only talk nonsense, beside sessions that go on."""
    sessions = []
    for charger in chargers.values():
        await bring_up(charger)
        sessions.append(await Charging(charger, node, rest).begin())

    async def rave(number: int) -> None:
        await make_station(rest, f"corner-mad-{number}")
        mad = Charger16(node.ocpp_url, f"corner-mad-{number}", password(f"corner-mad-{number}"))
        await mad.dial()
        for frame in ("{", "[]", b"\x00", '[2,"a","Levitate",{}]', '[3,"b",{}]', "[" * 40_000):
            await mad.say(frame)
        await mad.boot()
        await mad.hang_up()

    await asyncio.gather(*(rave(number) for number in range(8)))
    for session in sessions:
        await session.finish()
