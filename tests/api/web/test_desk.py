"""What every page needs."""

from datetime import UTC, datetime

import pytest
from jinja2 import UndefinedError

from api.web.desk import back_to, render
from api.web.sentences import Event
from tests.api.web.visitor import CARD, Visitor

AT = datetime(2026, 11, 2, 22, 30, 5, tzinfo=UTC)
FORMS = (
    ("cards/adopt", {"text": "04FF", "member_id": "flat-12"}),
    ("cards/dismiss", {"text": "04FF"}),
    ("cards/new", {"text": "04FF", "member_id": "flat-12"}),
    ("cards/block", {"token_id": "tok-12"}),
    ("cards/unblock", {"token_id": "tok-12"}),
    ("rights/give", {"who": "member:flat-12", "where": "site:weavers-yard"}),
    ("rights/take", {"right_id": "rgt_1"}),
)


@pytest.mark.parametrize(("form", "fields"), FORMS)
async def test_a_form_needs_the_token_of_this_sign_in(
    forewoman: Visitor, garage: None, form: str, fields: dict[str, str]
) -> None:
    for token in ({}, {"form_token": "guessed"}, {"form_token": "gü"}):
        got = await forewoman.client.post(f"/access/weavers-yard/{form}", data=fields | token)
        assert got.status_code == 403
        assert "not of your present sign-in" in got.text


@pytest.mark.parametrize(("form", "fields"), FORMS)
async def test_who_may_only_look_changes_nothing(
    onlooker: Visitor, garage: None, form: str, fields: dict[str, str]
) -> None:
    before = (await onlooker.get("/access/weavers-yard")).text
    got = await onlooker.send(f"/access/weavers-yard/{form}", **fields)
    assert got.status_code == 403
    assert "You may look, but not change anything." in got.text
    assert (await onlooker.get("/access/weavers-yard")).text == before
    assert CARD in before


def test_times_are_those_of_the_site() -> None:
    shown = render("parts/events.html", zone="Europe/Oslo", events=[Event(AT, "The van left.")])
    assert "23:30:05" in shown, "half past ten UTC is an hour later in Oslo in winter"
    assert 'datetime="2026-11-02T22:30:05+00:00"' in shown


def test_text_is_never_markup() -> None:
    shown = render(
        "parts/events.html", zone="UTC", events=[Event(AT, "<b onclick=x>'\"&", 'bad" onclick="x')]
    )
    assert "<b " not in shown
    assert 'onclick="x"' not in shown
    assert "&lt;b onclick=x&gt;&#39;&#34;&amp;" in shown


def test_a_template_that_lacks_a_value_says_so() -> None:
    with pytest.raises(UndefinedError):
        render("parts/events.html", zone="UTC")


def test_the_sentence_travels_beside_the_address() -> None:
    response = back_to("/sites", notice="Done: 5 > 3; really\n")
    assert response.headers["location"] == "/sites"
    assert "phaseyard_notice=Done%3A%205%20%3E%203%3B%20really%0A;" in response.headers["set-cookie"]
    assert "set-cookie" not in back_to("/sites").headers
