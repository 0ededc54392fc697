"""The main job, once in each protocol version, told by clients that are not ours."""

import csv
import io
from datetime import timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from api.node import Node
from tests.scenarios.charger import Charger, Values
from tests.scenarios.rest import Json, Rest, until
from tests.scenarios.site import CARDS, SITE, member_of

START_WH = 1_234_567
BOTH = pytest.mark.parametrize("version", ["1.6", "2.0.1"])


async def bring_up(charger: Charger, node: Node) -> None:
    await charger.dial()
    assert (await charger.boot())[0] == "Accepted"
    await charger.available(node.central.clock.now())


async def charge_20_kwh(charger: Charger, node: Node) -> str:
    """An hour at 20 kW that ends now: the session of OCPI's examples. Returns the transaction's id."""
    now = node.central.clock.now()
    transaction_id, verdict = await charger.start(
        CARDS[charger.station_id], now - timedelta(hours=1), START_WH
    )
    assert verdict == "Accepted"
    for quarter in (1, 2, 3):
        at = now - timedelta(minutes=60 - 15 * quarter)
        await charger.meter(Values(at=at, register_wh=START_WH + 5_000 * quarter, current_a=29.0))
    return transaction_id


async def priced(rest: Rest, station_id: str) -> Json:
    """The station's one session, once it has its price."""

    async def ask() -> Json | None:
        (session,) = await rest.sessions(station_id)
        return session if session["cost_excl"] is not None and not session["open"] else None

    return await until(ask, f"a price for the session at {station_id}")


@BOTH
async def test_a_station_boots_and_is_shown_on_line(
    version: str, node: Node, rest: Rest, chargers: dict[str, Charger]
) -> None:
    charger = chargers[version]
    await charger.dial()
    status, interval_s, told = await charger.boot()
    assert status == "Accepted"
    assert 270 <= interval_s <= 330
    assert told.startswith("2026-11-12T18:3")
    await charger.available(node.central.clock.now())
    station = await rest.get(f"/stations/{charger.station_id}")
    assert (station["connected"], station["vendor"], station["model"]) == (True, "Weir", "Sluice 22")
    assert station["protocol"] == version
    evses = (await rest.get(f"/stations/{charger.station_id}/evses"))["items"]
    assert {evse["number"]: evse["status"] for evse in evses}[1] == "available"


@BOTH
async def test_the_clients_would_notice_a_message_that_breaks_the_schema(
    version: str, chargers: dict[str, Charger]
) -> None:
    charger = chargers[version]
    await charger.dial()
    await charger.talk.route_message('[2,"1","SetChargingProfile",{"connectorId":"one"}]')
    assert len(charger.talk.faults) == 1
    charger.talk.faults.clear()


@BOTH
async def test_an_idle_station_is_made_safe_for_silence(
    version: str, node: Node, rest: Rest, chargers: dict[str, Charger]
) -> None:
    """The stored fallback that ends never, and above it nothing at all for an hour."""
    charger = chargers[version]
    await bring_up(charger, node)
    fallback = await charger.profile(purpose="TxDefaultProfile", stack_level=0)
    assert (fallback.evse, fallback.limit_a, fallback.valid_to) == (1, 6.0, None)
    idle = await charger.profile(purpose="TxDefaultProfile", stack_level=1)
    assert idle.limit_a == 0.0
    assert idle.valid_to is not None
    assert idle.valid_to.startswith("2026-11-12T19:3")

    async def safe() -> Json | None:
        bays = (await rest.get(f"/sites/{SITE}/power"))["bays"]
        return next((b for b in bays if b["station_id"] == charger.station_id and b["safe_in_silence"]), None)

    assert (await until(safe, "the fallback is known to be stored"))["state"] == "empty"


@BOTH
async def test_a_charge_is_authorized_offered_metered_stopped_and_priced(
    version: str, node: Node, rest: Rest, chargers: dict[str, Charger]
) -> None:
    charger = chargers[version]
    station_id = charger.station_id
    await bring_up(charger, node)
    assert await charger.authorize(CARDS[station_id].replace(":", "").lower()) == "Accepted"
    transaction_id = await charge_20_kwh(charger, node)

    # 40 A, less 10 A for the building and 6 A for the other station, which may be drawing its fallback.
    offer = await charger.profile(purpose="TxProfile", limit_a=24.0)
    assert (offer.evse, offer.stack_level) == (1, 2)
    assert offer.transaction_id == transaction_id
    # Two minutes, and then its fallback for as long as nobody is heard.
    assert (offer.valid_to, offer.then) == (None, (120, 6.0))

    now = node.central.clock.now()
    await charger.meter(Values(at=now, register_wh=START_WH + 19_990, current_a=24.0, offered_a=24.0))
    (running,) = await rest.sessions(station_id)
    assert (running["open"], running["energy_wh"]) == (True, 19_990)
    await charger.stop(node.central.clock.now(), START_WH + 20_000)

    session = await priced(rest, station_id)
    assert session["energy_wh"] == 20_000
    assert (session["register_start_wh"], session["register_stop_wh"]) == (START_WH, START_WH + 20_000)
    assert (session["member_id"], session["verdict"]) == (member_of(station_id), "accepted")
    assert (session["state"], session["marks"]) == ("ended", {})
    assert session["transaction_id"] == transaction_id
    # OCPI 2.2.1, mod_tariffs, "0.25 per kWh + start fee": 20 kWh make 5.50 EUR, 6.10 with VAT
    # (FLAT 0.50 + 20 %, ENERGY 5.00 + 10 %).
    assert (session["currency"], session["cost_excl"], session["cost_incl"]) == ("EUR", "5.50", "6.10")

    samples = await rest.every(f"/sessions/{session['id']}/samples")
    last = next(sample for sample in samples if sample["register_wh"] == START_WH + 19_990)
    lines = ("L1", "L2", "L3")
    assert last["current_a"] == dict.fromkeys(lines, 24.0)
    assert last["voltage_v"] == dict.fromkeys(lines, 230.0)
    assert last["line_power_w"] == dict.fromkeys(lines, 5520.0)
    assert (last["power_w"], last["offered_a"]) == (16_560.0, 24.0)
    registers = [sample["register_wh"] for sample in samples if sample["power_w"] is not None]
    assert registers == [START_WH + wh for wh in (5_000, 10_000, 15_000, 19_990)]


async def test_both_versions_are_in_one_month_with_the_sums_of_their_sessions(
    node: Node, rest: Rest, chargers: dict[str, Charger]
) -> None:
    for charger in chargers.values():
        await bring_up(charger, node)
        await charge_20_kwh(charger, node)
        await charger.stop(node.central.clock.now(), START_WH + 20_000)
        await priced(rest, charger.station_id)
    (session,) = await rest.sessions("corner-16")
    zone = ZoneInfo("Europe/Amsterdam")
    month = node.central.clock.now().astimezone(zone).strftime("%Y-%m")
    assert session["ended_at"].startswith(month)

    report = await rest.get(f"/reports/month?site={SITE}&month={month}&by=member")
    rows = {row["id"]: row for row in report["items"]}
    assert set(rows) == {member_of(charger.station_id) for charger in chargers.values()}
    for row in rows.values():
        assert (row["sessions"], row["energy_wh"], row["connected_s"] // 60) == (1, 20_000, 60)
        assert (row["cost_excl"], row["vat"], row["cost_incl"]) == ("5.50", "0.60", "6.10")
        assert (row["unpriced"], row["marked"]) == (0, 0)
    (total,) = report["totals"]
    assert (total["sessions"], total["energy_wh"], total["currency"]) == (2, 40_000, "EUR")
    assert (total["cost_excl"], total["vat"], total["cost_incl"]) == ("11.00", "1.20", "12.20")
    assert report["open_sessions"] == []

    answer = await rest.answer("GET", f"/reports/month?site={SITE}&month={month}&by=member&format=csv")
    assert answer.headers["content-type"].startswith("text/csv")
    table = list(csv.DictReader(io.StringIO(answer.text)))
    items = [row for row in table if row["row"] == "item"]
    assert {row["id"] for row in items} == set(rows)
    assert sum(int(row["energy_wh"]) for row in items) == 40_000
    assert sum(Decimal(row["cost_incl"]) for row in items) == Decimal("12.20")
    (written,) = [row for row in table if row["row"] == "total"]
    assert (written["energy_wh"], written["cost_excl"], written["cost_incl"]) == ("40000", "11.00", "12.20")


async def test_a_second_car_of_the_other_version_gets_its_half_only_after_the_first_has_been_lowered(
    node: Node, rest: Rest, chargers: dict[str, Charger]
) -> None:
    """By hand: 40 A - 10 A of the building = 30 A; alone 30 A, together 15 A each, lower first."""
    first, second = chargers["1.6"], chargers["2.0.1"]
    for charger in (first, second):
        await bring_up(charger, node)
        await charger.profile(purpose="TxDefaultProfile", stack_level=1)

    async def start(charger: Charger) -> None:
        await charger.start(CARDS[charger.station_id], node.central.clock.now(), START_WH)

    await start(first)
    await first.profile(purpose="TxProfile", limit_a=30.0)
    await start(second)
    await first.profile(purpose="TxProfile", limit_a=15.0)
    lowered = node.central.clock.monotonic()
    assert [held for held in second.talk.profiles if held.purpose == "TxProfile"] == []
    assert (await second.profile(purpose="TxProfile")).limit_a == 15.0
    # The first car has 5 s to follow (IEC 61851-1), and nothing it measured says that it has.
    assert node.central.clock.monotonic() - lowered >= 4.9
    power = await rest.get(f"/sites/{SITE}/power")
    assert {bay["offer_a"] for bay in power["bays"]} == {15.0}
    reasons = {(bay["why"]["kind"], bay["why"]["circuit"]) for bay in power["bays"]}
    assert reasons == {("circuit_line", "corner-supply")}
