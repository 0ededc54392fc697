"""Refusals are pages too."""

import pytest

from api.auth import LARGEST_BODY
from tests.api.web.visitor import Visitor


@pytest.mark.parametrize(
    "address", ["/sites/nowhere", "/access/nowhere", "/sites/nowhere/live", "/sites/%3Cscript%3E"]
)
async def test_an_unknown_site_is_a_plain_page(forewoman: Visitor, address: str) -> None:
    got = await forewoman.get(address)
    assert got.status_code == 404
    assert got.headers["content-type"] == "text/html; charset=utf-8"
    assert "There is no site" in got.text
    assert "<script>" not in got.text
    assert "Sign out" in got.text, "who is signed in stays so"


async def test_a_form_without_its_fields_is_a_plain_page(forewoman: Visitor, garage: None) -> None:
    got = await forewoman.send("/access/weavers-yard/cards/block")
    assert got.status_code == 422
    assert "token_id is missing or wrong" in got.text


async def test_an_endless_form_is_not_read(visitor: Visitor) -> None:
    got = await visitor.client.post("/sign-in", data={"name": "x" * (LARGEST_BODY + 1)})
    assert got.status_code == 413
    assert got.headers["content-type"] == "text/html; charset=utf-8"
    assert "larger than" in got.text


async def test_a_character_that_no_database_holds_is_refused(forewoman: Visitor, garage: None) -> None:
    """PostgreSQL takes no NUL in a text."""
    got = await forewoman.get("/sites/weavers%00yard")
    assert (got.status_code, got.headers["content-type"]) == (404, "text/html; charset=utf-8")
    got = await forewoman.send("/access/weavers-yard/cards/block", token_id="a\x00b")
    assert got.status_code == 422
    assert "token_id is missing or wrong" in got.text


async def test_a_required_choice_that_was_not_made_is_a_plain_page(forewoman: Visitor, garage: None) -> None:
    got = await forewoman.send("/access/weavers-yard/rights/give", who="", where="site:weavers-yard")
    assert got.status_code == 422
    assert "who is missing or wrong" in got.text
