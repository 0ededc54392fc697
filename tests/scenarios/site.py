"""A small site at Weavers' Yard, as its manager writes it: the visitors' corner of the courtyard.

One supply of 40 A per line of which the building takes 10 A at worst, and two stations that fall back
to 6 A each. So, by hand: alone on line one car may have 40 - 10 - 6 = 24 A, both together 15 A each.
"""

from typing import Any, Final

from tests.scenarios.rest import Json, Rest

SITE: Final = "corner"
SUPPLY: Final = "corner-supply"
STATIONS: Final = {"corner-16": "1.6", "corner-201": "2.0.1"}
PASSWORD: Final = "shuttle-and-loom-{}"
CARDS: Final = {"corner-16": "04:A1:6C:1E", "corner-201": "04:B2:7D:2F"}
"""The card of the member that charges there."""

START_FEE: Final[Json] = {
    "country_code": "DE",
    "party_id": "EXA",
    "id": "17",
    "currency": "EUR",
    "elements": [
        {
            "price_components": [
                {"type": "FLAT", "price": 0.50, "vat": 20.0, "step_size": 1},
                {"type": "ENERGY", "price": 0.25, "vat": 10.0, "step_size": 1},
            ]
        }
    ],
    "last_updated": "2018-12-17T11:36:01Z",
}
"""OCPI 2.2.1, mod_tariffs, example "0.25 per kWh + start fee": 20 kWh cost 5.50 and 6.10 with VAT."""


def password(station_id: str) -> str:
    return PASSWORD.format(station_id)


async def make_site(rest: Rest) -> None:
    """Everything by REST, then active."""
    site = {"id": SITE, "name": "Visitors' corner", "time_zone": "Europe/Amsterdam", "currency": "EUR"}
    await rest.post("/sites", {**site, "system": "TN-400"})
    supply = {"id": SUPPLY, "site_id": SITE, "name": "Corner supply", "limit_a": 40, "worst_base_a": 10}
    await rest.post("/circuits", supply)
    for station_id in STATIONS:
        await make_station(rest, station_id, fallback_a=6)
    for station_id, card in CARDS.items():
        member = member_of(station_id)
        await rest.post("/members", {"id": member, "site_id": SITE, "name": f"Guest of {station_id}"})
        await rest.post("/tokens", {"text": card, "member_id": member})
        await rest.post("/rights", {"site_id": SITE, "member_id": member})
    await rest.post("/tariffs", {"id": "fee", "site_id": SITE, "name": "Start fee", "document": START_FEE})
    await rest.post("/tariffs/fee/assignments", {"site_id": SITE})
    await rest.send("PATCH", f"/sites/{SITE}", {"active": True})


async def make_station(rest: Rest, station_id: str, **facts: Any) -> None:
    """A station of the corner with its key."""
    body = {"id": station_id, "site_id": SITE, "circuit_id": SUPPLY, "step_a": 1.0, **facts}
    await rest.post("/stations", body)
    await rest.post(f"/stations/{station_id}/key", {"key": password(station_id)})


def member_of(station_id: str) -> str:
    return f"guest-{station_id}"
