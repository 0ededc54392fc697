"""A new charger finds its place, and two sites on one node do not take from each other."""

import pytest
from ocpp.v16 import call

from api.node import Node
from tests.scenarios.charger16 import Charger16
from tests.scenarios.rest import Json, Rest, until
from tests.scenarios.site import CARDS, SITE, SUPPLY, password

PLACE: Json = {
    "id": "corner-9",
    "name": "Corner 9",
    "site_id": SITE,
    "circuit_id": SUPPLY,
    "wiring": ["L2", "L3", "L1"],
    "expected_serial": "WEIR 4711",
}

ANNEX = """\
site: {id: annex, name: Annex, time_zone: Europe/Amsterdam, currency: EUR, system: TN-400}
circuits:
  - {id: annex-supply, name: Annex supply, limit_a: 20}
stations:
  - {identity: annex-1, name: Annex 1, circuit: annex-supply}
"""


async def boot(charger: Charger16, serial: str) -> str:
    answer = await charger.call(
        call.BootNotification(
            charge_point_vendor="Weir", charge_point_model="Sluice 22", charge_point_serial_number=serial
        )
    )
    return str(answer.status)


async def test_a_charger_with_a_known_serial_joins_its_place_with_nothing_to_configure(
    node: Node, rest: Rest
) -> None:
    await rest.post("/stations", PLACE)
    charger = Charger16(node.ocpp_url, "factory-77")
    await charger.dial()
    assert await boot(charger, "weir4711") == "Accepted"
    station = await rest.get("/stations/factory-77")
    assert (station["name"], station["circuit_id"], station["connected"]) == ("Corner 9", SUPPLY, True)
    assert (station["registration"], station["wiring"]) == ("accepted", ["L2", "L3", "L1"])
    assert (await rest.answer("GET", "/stations/corner-9")).status_code == 404
    # From now on it is steered: what it falls back to is stored in it.
    assert (await charger.profile(purpose="TxDefaultProfile")).limit_a == 0.0
    await charger.hang_up()


async def test_an_unknown_charger_waits_for_a_place(node: Node, rest: Rest) -> None:
    await rest.post("/stations", PLACE)
    charger = Charger16(node.ocpp_url, "stray")
    await charger.dial()
    assert await boot(charger, "WEIR 9999") == "Pending"
    station = await rest.get("/stations/stray")
    assert (station["registration"], station["site_id"], station["serial"]) == ("pending", None, "WEIR 9999")
    await rest.post("/stations/stray/place", {"site_id": SITE, "circuit_id": SUPPLY, "name": "Corner 10"})
    assert await boot(charger, "WEIR 9999") == "Accepted"
    assert (await charger.profile(purpose="TxDefaultProfile")).limit_a == 0.0
    await charger.hang_up()


async def test_two_sites_are_steered_apart(node: Node, rest: Rest) -> None:
    """By hand: the corner leaves 40 - 10 - 6 = 24 A for one car (the other station does not hear us and
    falls back to 6 A), the annex its whole 20 A."""
    answer = await rest.client.post("/sites/import", content=ANNEX)
    assert answer.status_code == 200, answer.text
    await rest.post("/members", {"id": "annex-guest", "site_id": "annex", "name": "Guest of the annex"})
    await rest.post("/tokens", {"text": "04:C3:8E:4F", "member_id": "annex-guest"})
    await rest.post("/rights", {"site_id": "annex", "member_id": "annex-guest"})
    await rest.send("PATCH", "/sites/annex", {"active": True})
    corner = Charger16(node.ocpp_url, "corner-16", password("corner-16"))
    annex = Charger16(node.ocpp_url, "annex-1")
    cards = {corner: CARDS["corner-16"], annex: "04:C3:8E:4F"}
    for charger, card in cards.items():
        await charger.dial()
        assert (await charger.boot())[0] == "Accepted"
        await charger.available(node.central.clock.now())
        assert (await charger.start(card, node.central.clock.now(), 0))[1] == "Accepted"

    async def offers(site: str) -> dict[str, float] | None:
        answer = await rest.answer("GET", f"/sites/{site}/power")
        if answer.status_code == 409:
            return None  # its controller is made anew just now
        found = {bay["station_id"]: bay["offer_a"] for bay in answer.json()["bays"]}
        return found if any(found.values()) else None

    async def settled(site: str, station: str, wanted_a: float) -> None:
        async def ask() -> bool | None:
            found = await offers(site)
            return True if found and found[station] == pytest.approx(wanted_a) else None

        await until(ask, f"{wanted_a} A at {station}", timeout_s=40)

    await settled(SITE, "corner-16", 24.0)
    await settled("annex", "annex-1", 20.0)
    # What happens at one is not felt at the other.
    assert set(await until(lambda: offers(SITE), "the corner's offers")) == {"corner-16", "corner-201"}
    assert set(await until(lambda: offers("annex"), "the annex's offers")) == {"annex-1"}
    await rest.send("PATCH", "/circuits/annex-supply", {"limit_a": 10})
    await settled("annex", "annex-1", 10.0)
    await settled(SITE, "corner-16", 24.0)
    for charger in cards:
        await charger.hang_up()
