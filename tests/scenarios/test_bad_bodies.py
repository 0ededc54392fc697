"""Bodies that are wrong: refused by the name of the field, and nothing changes."""

from typing import Any

from api.node import Node
from tests.scenarios.rest import Json, Rest
from tests.scenarios.site import SITE, SUPPLY, member_of

CIRCUIT: Json = {"site_id": SITE, "name": "Shed", "fed_from": SUPPLY, "limit_a": 16}
STATION: Json = {"id": "corner-new", "site_id": SITE, "circuit_id": SUPPLY}

REFUSED: dict[str, tuple[str, Any, str]] = {
    # path, body, the field that is named
    "circuit fed from nowhere": ("/circuits", CIRCUIT | {"fed_from": "attic"}, "fed_from"),
    "circuit of no site": ("/circuits", CIRCUIT | {"site_id": "elsewhere"}, ""),
    "second supply": ("/circuits", CIRCUIT | {"fed_from": None}, "fed_from"),
    "negative limit": ("/circuits", CIRCUIT | {"limit_a": -16}, "limit_a"),
    "negative limit of a line": ("/circuits", CIRCUIT | {"limit_a": {"L1": 16, "L2": -1}}, "limit_a"),
    "a line that is none": ("/circuits", CIRCUIT | {"limit_a": {"L4": 16}}, "limit_a"),
    "limit as text": ("/circuits", CIRCUIT | {"limit_a": "16"}, "limit_a"),
    "limit true": ("/circuits", CIRCUIT | {"limit_a": True}, "limit_a"),
    "negative base load": ("/circuits", CIRCUIT | {"worst_base_a": -3}, "worst_base_a"),
    "a field too many": ("/circuits", CIRCUIT | {"limit_w": 11_000}, "limit_w"),
    "station on an unknown circuit": ("/stations", STATION | {"circuit_id": "attic"}, "circuit_id"),
    "station with a negative maximum": ("/stations", STATION | {"max_current_a": -1}, "max_current_a"),
    "station wired to no line": ("/stations", STATION | {"wiring": []}, "wiring"),
    "station wired twice": ("/stations", STATION | {"wiring": ["L1", "L1"]}, "wiring"),
    "a fallback that no pilot can say": ("/stations", STATION | {"fallback_a": 3}, "fallback_a"),
    "station by number": ("/stations", STATION | {"id": 7}, "id"),
    "member of an unknown kind": ("/members", {"site_id": SITE, "name": "Flat 3", "kind": "ghost"}, "kind"),
    "member without a name": ("/members", {"site_id": SITE}, "name"),
    "token of nobody": ("/tokens", {"text": "04FACE", "member_id": "nobody"}, "member_id"),
    "token as number": ("/tokens", {"text": 4, "member_id": member_of("corner-16")}, "text"),
    "right for nobody": ("/rights", {"site_id": SITE}, ""),
    "right for two": ("/rights", {"site_id": SITE, "everyone": True, "member_id": "x"}, ""),
    "tariff without elements": (
        "/tariffs", {"site_id": SITE, "name": "T", "document": {"currency": "EUR"}}, "document",
    ),
    "reading of a line that is none": (f"/circuits/{SUPPLY}/readings", {"current_a": {"N": 1}}, "current_a"),
    "a list": ("/members", [], ""),
    "a text": ("/members", "member", ""),
    "nothing": ("/members", None, ""),
}  # fmt: skip


async def test_a_body_that_is_wrong_is_refused_by_the_name_of_its_field_and_changes_nothing(
    rest: Rest,
) -> None:
    async def listed() -> dict[str, list[Json]]:
        names = ("circuits", "stations", "members", "tokens", "rights", "tariffs")
        return {name: await rest.every(f"/{name}?site={SITE}") for name in names}

    before = await listed()
    for sort, (path, body, field) in REFUSED.items():
        answer = await rest.answer("POST", path, body)
        assert answer.status_code == (404 if sort == "circuit of no site" else 422), (sort, answer.text)
        assert answer.headers["content-type"] == "application/problem+json", sort
        problem = answer.json()
        named = [problem["field"]] if "field" in problem else []
        named += [each["field"] for each in problem.get("errors", [])]
        assert named or answer.status_code == 404, (sort, problem)
        assert not field or any(each.startswith(field) for each in named), (sort, problem)
    assert await listed() == before


async def test_a_body_that_is_no_json_is_refused(rest: Rest) -> None:
    headers = {"Content-Type": "application/json"}
    answer = await rest.client.post("/members", content=b'{"site_id": ', headers=headers)
    assert (answer.status_code, answer.json()["field"]) == (422, "body")
    answer = await rest.client.post("/members", content=b"\xff\xfe", headers=headers)
    assert answer.status_code == 422


async def test_a_circuit_cannot_be_made_to_feed_itself(rest: Rest) -> None:
    shed = await rest.post("/circuits", CIRCUIT)
    loft = await rest.post("/circuits", CIRCUIT | {"name": "Loft", "fed_from": shed["id"]})
    answer = await rest.answer("PATCH", f"/circuits/{shed['id']}", {"fed_from": loft["id"]})
    assert (answer.status_code, answer.json()["field"]) == (422, "fed_from")
    assert (await rest.get(f"/circuits/{shed['id']}"))["fed_from"] == SUPPLY


async def test_a_site_that_is_not_safe_without_us_is_not_made_active(rest: Rest) -> None:
    """By hand: 16 A of fuse, two stations that fall back to 10 A each."""
    await rest.post("/sites", {"id": "shed", "name": "Shed", "time_zone": "Europe/Amsterdam",
                               "currency": "EUR", "system": "TN-400"})  # fmt: skip
    await rest.post("/circuits", {"id": "shed-supply", "site_id": "shed", "name": "S", "limit_a": 16})
    for number in (1, 2):
        body = {"id": f"shed-{number}", "site_id": "shed", "circuit_id": "shed-supply", "fallback_a": 10}
        await rest.post("/stations", body)
    answer = await rest.answer("PATCH", "/sites/shed", {"active": True})
    assert answer.status_code == 409
    assert "shed-supply L1: fallbacks and base load make 20 A of 16 A" in answer.json()["detail"]
    assert (await rest.get("/sites/shed"))["active"] is False


async def test_no_key_or_a_wrong_one_opens_nothing(node: Node, rest: Rest) -> None:
    for key in ("phy_", "phy_guessed", "x" * 5000):
        async with Rest(node.http_url, key) as stranger:
            answer = await stranger.answer("GET", "/stations")
            assert (answer.status_code, answer.headers["content-type"]) == (401, "application/problem+json")
