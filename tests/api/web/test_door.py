"""In and out."""

import pytest

from api.auth import COOKIE
from api.web.door import own_address
from tests.api.web.visitor import Visitor


async def test_who_is_not_signed_in_is_asked_to_and_then_gets_where_they_wanted(
    visitor: Visitor, garage: None
) -> None:
    asked = await visitor.get("/access/weavers-yard")
    assert asked.url.path == "/sign-in"
    assert 'name="next" value="/access/weavers-yard"' in asked.text
    got = await visitor.sign_in("forewoman", next="/access/weavers-yard")
    assert (got.status_code, got.url.path) == (200, "/access/weavers-yard")
    assert "Members and their cards" in got.text


async def test_the_cookie_is_for_nobody_else(visitor: Visitor) -> None:
    visitor.client.follow_redirects = False
    got = await visitor.sign_in("forewoman")
    assert got.status_code == 303
    cookie = got.headers["set-cookie"].lower()
    assert cookie.startswith(COOKIE)
    assert "httponly" in cookie
    assert "samesite=lax" in cookie
    assert "secure" not in cookie, "http here; behind TLS it is"


@pytest.mark.parametrize("name", ["forewoman", "nobody", "", "<script>alert(1)</script>"])
async def test_a_wrong_password_and_an_unknown_name_are_told_alike(visitor: Visitor, name: str) -> None:
    got = await visitor.sign_in(name, "not the password")
    assert got.status_code == 401
    assert "That name and password do not go together." in got.text
    assert COOKIE not in visitor.client.cookies
    assert "<script>alert" not in got.text


async def test_too_many_tries_have_to_wait_also_with_the_right_password(visitor: Visitor) -> None:
    for _ in range(5):
        assert "do not go together" in (await visitor.sign_in("forewoman", "not the password")).text
    got = await visitor.sign_in("forewoman")
    assert got.status_code == 401
    assert "Too many tries for this name." in got.text
    assert (await visitor.sign_in("onlooker")).status_code == 200, "another name may"


async def test_sign_out_ends_the_sign_in_itself(forewoman: Visitor) -> None:
    secret = forewoman.client.cookies[COOKIE]
    left = await forewoman.send("/sign-out")
    assert left.url.path == "/sign-in"
    assert "You are signed out." in left.text
    assert COOKIE not in forewoman.client.cookies
    forewoman.client.cookies.set(COOKIE, secret)
    assert (await forewoman.get("/sites")).url.path == "/sign-in", "the old cookie opens nothing"


async def test_sign_out_needs_the_form_token(forewoman: Visitor) -> None:
    assert (await forewoman.client.post("/sign-out")).status_code == 403
    assert (await forewoman.get("/sites")).url.path == "/sites"


async def test_what_was_done_is_said_once(forewoman: Visitor) -> None:
    assert "You are signed out." in (await forewoman.send("/sign-out")).text
    assert "You are signed out." not in (await forewoman.get("/sign-in")).text


async def test_an_address_cannot_put_words_into_our_mouth(visitor: Visitor) -> None:
    got = await visitor.get("/sign-in?problem=Call+0800+now&notice=Call+0800+now")
    assert "0800" not in got.text


@pytest.mark.parametrize(
    ("address", "expected"),
    [
        ("/access/weavers-yard", "/access/weavers-yard"),
        ("/access/weavers-yard?find=flat", "/access/weavers-yard?find=flat"),
        ("https://elsewhere.example/", "/"),
        ("//elsewhere.example/", "/"),
        ("/\\elsewhere.example/", "/"),
        ("/\t/elsewhere.example/", "/"),
        ("javascript:alert(1)", "/"),
        ("", "/"),
    ],
)
def test_nobody_is_sent_elsewhere(address: str, expected: str) -> None:
    assert own_address(address) == expected


async def test_the_door_itself_sends_nobody_elsewhere(visitor: Visitor) -> None:
    visitor.client.follow_redirects = False
    got = await visitor.sign_in("forewoman", next="//elsewhere.example/")
    assert got.headers["location"] == "/"


async def test_a_form_of_a_sign_in_that_has_ended_leads_to_a_page(visitor: Visitor, garage: None) -> None:
    got = await visitor.client.post("/access/weavers-yard/cards/block", data={"token_id": "tok-12"})
    assert got.url.path == "/sign-in"
    assert 'name="next" value="/"' in got.text, "not the address of the form, which is no page"
