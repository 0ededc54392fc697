"""Tariffs and their assignments over REST."""

import json
from decimal import Decimal
from typing import Any

import httpx
import pytest

DOCUMENT = """{
  "currency": "NOK",
  "elements": [
    {"price_components": [
      {"type": "ENERGY", "price": 2.1050, "vat": 25.0, "step_size": 1},
      {"type": "FLAT", "price": 123456789012.123456789012, "step_size": 1}
    ]}
  ]
}"""
JSON = {"content-type": "application/json"}


async def create(manager: httpx.AsyncClient, document: str = DOCUMENT, **more: Any) -> httpx.Response:
    head = {"id": "day", "site_id": "weavers-yard", "name": "By day"} | more
    body = json.dumps(head)[:-1] + f', "document": {document}}}'
    return await manager.post("/v1/tariffs", content=body, headers=JSON)


def exact(answer: httpx.Response) -> Any:
    return json.loads(answer.text, parse_float=Decimal)


async def test_prices_come_back_with_all_their_digits(
    manager: httpx.AsyncClient, yard: dict[str, Any]
) -> None:
    made = await create(manager)
    assert made.status_code == 201, made.text
    assert made.headers["location"] == "/v1/tariffs/day"
    document = exact(made)["document"]
    energy, flat = document["elements"][0]["price_components"]
    # As text: no float came near them, which would drop the last zero and digits 17 to 24.
    assert (str(energy["price"]), str(flat["price"])) == ("2.1050", "123456789012.123456789012")
    assert exact(await manager.get("/v1/tariffs/day")) == exact(made)
    listed = await manager.get("/v1/tariffs?site=weavers-yard")
    assert exact(listed) == {"items": [exact(made)], "next": None}
    assert '"price":2.1050' in listed.text


@pytest.mark.parametrize(
    ("document", "field"),
    [
        ("{}", "document.currency"),
        ('{"currency": "NOK", "elements": []}', "document.elements"),
        (DOCUMENT.replace("NOK", "EUR"), "document.currency"),
        (DOCUMENT.replace("2.1050", '"2.1050"'), "document.elements[0].price_components[0].price"),
        (DOCUMENT.replace("step_size", "stepsize", 1), "document.elements[0].price_components[0].stepsize"),
        (DOCUMENT.replace("2.1050", "NaN"), "body"),
        (DOCUMENT.replace('"vat"', '"price": 1, "vat"'), "body"),
        ("[]", "document"),
        ("[" * 50_000, "body"),
        ("null", "document"),
    ],
)
async def test_a_wrong_tariff_is_refused_by_its_path(
    manager: httpx.AsyncClient, yard: dict[str, Any], document: str, field: str
) -> None:
    refused = await create(manager, document)
    assert (refused.status_code, refused.json()["field"]) == (422, field)
    assert (await manager.get("/v1/tariffs")).json()["items"] == []


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"site_id": "nowhere"}, "site_id"),
        ({"name": 5}, "name"),
        ({"colour": "red"}, "colour"),
    ],
)
async def test_what_is_around_it_is_checked_too(
    manager: httpx.AsyncClient, yard: dict[str, Any], more: dict[str, Any], field: str
) -> None:
    refused = await create(manager, **more)
    assert (refused.status_code, refused.json()["field"]) == (422, field)


async def test_a_body_that_is_no_text_is_refused(manager: httpx.AsyncClient) -> None:
    refused = await manager.post("/v1/tariffs", content=b"\xff\xfe", headers=JSON)
    assert (refused.status_code, refused.json()["field"]) == (422, "body")


async def test_a_tariff_is_there_once_and_goes_when_unused(
    manager: httpx.AsyncClient, yard: dict[str, Any]
) -> None:
    await create(manager)
    assert (await create(manager)).status_code in (409, 422)
    assigned = await manager.post("/v1/tariffs/day/assignments", json={"site_id": "weavers-yard"})
    assert assigned.status_code == 201
    assert (await manager.delete("/v1/tariffs/day")).status_code == 409


async def test_a_tariff_is_assigned_and_the_assignment_ended(
    manager: httpx.AsyncClient, yard: dict[str, Any]
) -> None:
    await create(manager)
    body = {"site_id": "weavers-yard", "guests": True, "valid_from": "2026-11-01T00:00:00+01:00"}
    made = await manager.post("/v1/tariffs/day/assignments", json=body)
    assignment = made.json()
    assert assignment == {
        "id": assignment["id"],
        "tariff_id": "day",
        "site_id": "weavers-yard",
        "station_id": None,
        "group_id": None,
        "guests": True,
        "valid_from": "2026-10-31T23:00:00Z",
        "valid_to": None,
    }
    assert (await manager.get(made.headers["location"])).json() == assignment
    assert (await manager.post("/v1/tariffs/day/assignments", json=body)).json() == assignment
    ended = await manager.post(f"{made.headers['location']}/end", json={"at": "2026-12-01T00:00:00Z"})
    assert ended.json() == assignment | {"valid_to": "2026-12-01T00:00:00Z"}
    page = (await manager.get("/v1/tariffs/day/assignments")).json()
    assert page == {"items": [ended.json()], "next": None}
    gone = await manager.post(f"{made.headers['location']}/end", json={"at": "2026-10-01T00:00:00Z"})
    assert (gone.status_code, gone.json()) == (200, None)
    assert (await manager.get(made.headers["location"])).status_code == 404


async def test_an_assignment_to_what_is_not_there_is_refused(
    manager: httpx.AsyncClient, yard: dict[str, Any]
) -> None:
    await create(manager)
    url = "/v1/tariffs/day/assignments"
    for wrong, field in (
        ({"station_id": "nothing"}, "station_id"),
        ({"group_id": "nobody"}, "group_id"),
        ({"valid_from": "2026-11-01"}, "valid_from"),
        ({"everyone": True}, "everyone"),
    ):
        refused = await manager.post(url, json={"site_id": "weavers-yard"} | wrong)
        assert (refused.status_code, refused.json()["field"]) == (422, field)
    nothing = await manager.post("/v1/tariffs/night/assignments", json={"site_id": "weavers-yard"})
    assert nothing.status_code == 404
    assert (await manager.get("/v1/tariffs/night/assignments")).status_code == 404
    assert (await manager.get("/v1/tariffs/day/assignments/nothing")).status_code == 404


SESSION = """{"start_local": "2026-11-02T00:00:00", "time_zone": "Europe/Oslo",
  "segments": [{"kind": "CHARGING", "duration_s": 7200, "energy_kwh": 6.5}]}"""


async def preview(manager: httpx.AsyncClient, tariff: str, **more: Any) -> httpx.Response:
    head = "".join(f', "{name}": {json.dumps(value)}' for name, value in more.items())
    body = f'{{{tariff}, "session": {SESSION}{head}}}'
    return await manager.post("/v1/tariffs/preview", content=body, headers=JSON)


async def test_a_session_is_imagined(manager: httpx.AsyncClient, yard: dict[str, Any]) -> None:
    await create(manager, DOCUMENT.replace("123456789012.123456789012", "3"))
    kept = await preview(manager, '"tariff_id": "day"')
    assert kept.status_code == 200, kept.text
    # 6.5 x 2.1050 + 3 = 16.6825, and 25 % on the energy.
    assert (kept.json()["total_excl_vat"], kept.json()["total_incl_vat"]) == ("16.68", "20.10")
    posted = await preview(manager, f'"document": {DOCUMENT.replace("123456789012.123456789012", "3")}')
    assert posted.json() == kept.json()
    reasons = [line["reason"] for line in kept.json()["lines"]]
    assert reasons == [
        "elements[0] is the first with FLAT that applies, without conditions",
        "elements[0] is the first with ENERGY that applies, without conditions",
    ]


async def test_a_wrong_preview(manager: httpx.AsyncClient, yard: dict[str, Any]) -> None:
    for tariff, status, field in (
        ('"tariff_id": "none"', 404, None),
        ('"document": {}', 422, "document.currency"),
        (f'"tariff_id": "day", "document": {DOCUMENT}', 422, "tariff_id"),
        (f'"document": {DOCUMENT}, "price": 1', 422, "price"),
    ):
        refused = await preview(manager, tariff)
        assert (refused.status_code, refused.json().get("field")) == (status, field)


async def test_a_preview_follows_the_market(manager: httpx.AsyncClient, yard: dict[str, Any]) -> None:
    await manager.post("/v1/market-prices/feeds", json={"id": "no-1", "name": "East", "currency": "NOK"})
    own = '"phaseyard": {"components": [{"type": "SPOT", "feed": "no-1", "markup_per_kwh": 0.10}]}'
    document = DOCUMENT.replace("123456789012.123456789012", "3").replace(
        '"currency"', own + ', "currency"', 1
    )
    made = await create(manager, document)
    assert made.status_code == 201, made.text
    waits = await preview(manager, '"tariff_id": "day"')
    assert waits.status_code == 409
    assert "no-1 from 2026-11-01T23:00:00Z to 2026-11-02T01:00:00Z" in waits.json()["detail"]
    csv = "timestamp,price,unit\n2026-11-02T00:00+01:00,400,NOK/MWh\n2026-11-02T01:00+01:00,-40,NOK/MWh\n"
    await manager.post("/v1/market-prices/feeds/no-1/documents", content=csv)
    quote = (await preview(manager, '"tariff_id": "day"')).json()
    # 3.25 x 0.40 - 3.25 x 0.04 + 6.5 x 0.10 + 3 = 4.82
    assert quote["total_excl_vat"] == "4.82"
    assert [line["dimension"] for line in quote["lines"]] == ["FLAT", "SPOT", "SPOT_MARKUP", "SPOT"]
    unknown = await preview(manager, f'"document": {document.replace("no-1", "no-9")}')
    assert (unknown.status_code, unknown.json()["field"]) == (422, "document.phaseyard.components")


async def test_partners_get_a_plain_object(manager: httpx.AsyncClient, yard: dict[str, Any]) -> None:
    own = '"phaseyard": {"components": [{"type": "MONTHLY_FEE", "name": "Place", "amount": 60, "vat": 25}]}'
    await create(manager, DOCUMENT.replace('"currency"', own + ', "currency"', 1))
    newer = exact(await manager.get("/v1/tariffs/day/ocpi"))
    assert newer == {**json.loads(DOCUMENT, parse_float=Decimal), "tax_included": "NO"}
    older = exact(await manager.get("/v1/tariffs/day/ocpi?edition=2.2.1"))
    assert older == json.loads(DOCUMENT, parse_float=Decimal)
    assert (await manager.get("/v1/tariffs/day/ocpi?edition=3")).status_code == 422
