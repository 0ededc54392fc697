"""What the pages are put onto, and what all of them have in common."""

import pytest

from tests.api.web.visitor import CARD, Visitor

PAGES = ("/sites", "/sites/weavers-yard", "/access/weavers-yard")


@pytest.mark.parametrize("address", ["/", *PAGES, "/sites/weavers-yard/live"])
async def test_nothing_is_shown_to_who_is_not_signed_in(visitor: Visitor, garage: None, address: str) -> None:
    got = await visitor.get(address)
    assert got.url.path == "/sign-in"
    assert CARD not in got.text


@pytest.mark.parametrize("address", [*PAGES, "/sign-in", "/sites/nowhere"])
async def test_every_page_is_closed_to_foreign_hands(forewoman: Visitor, garage: None, address: str) -> None:
    got = await forewoman.get(address)
    policy = dict(part.strip().split(" ", 1) for part in got.headers["content-security-policy"].split(";"))
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["form-action"] == "'self'"
    assert policy["frame-ancestors"] == "'none'"
    assert got.headers["x-content-type-options"] == "nosniff"
    assert got.headers["cache-control"] == "no-store"
    assert got.headers["referrer-policy"] == "same-origin"
    assert got.headers["content-type"] == "text/html; charset=utf-8"
    assert " style=" not in got.text, "the policy would stop it"


async def test_redirects_are_not_kept_either(visitor: Visitor) -> None:
    visitor.client.follow_redirects = False
    for address in ("/sign-in",):
        assert (await visitor.get(address)).headers["cache-control"] == "no-store"
    assert (await visitor.sign_in("forewoman")).headers["cache-control"] == "no-store"


async def test_the_files_are_ours(visitor: Visitor) -> None:
    style, script = await visitor.get("/static/yard.css"), await visitor.get("/static/live.js")
    assert (style.status_code, script.status_code) == (200, 200)
    assert "javascript" in script.headers["content-type"]
    for file in (style.text, script.text):
        assert "http://" not in file
        assert "https://" not in file
    assert (await visitor.get("/static/../desk.py")).status_code == 404


async def test_the_pages_are_not_in_the_document_of_the_interface(visitor: Visitor) -> None:
    paths = (await visitor.get("/openapi.json")).json()["paths"]
    assert all(path.startswith("/v1/") for path in paths)
