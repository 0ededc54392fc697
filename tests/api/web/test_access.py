"""The page Access: who may charge, with which card, where."""

import httpx
import pytest

from csms.app import Central
from csms.stations.model import TokenKind, TokenRef
from tests.api.web.visitor import CARD, Visitor

PAGE = "/access/weavers-yard"
FOUND = "04D15EA5ED0B0B"


@pytest.fixture
async def held(central: Central, garage: None) -> None:
    """A card that nobody knows was held to a charger."""
    decision = await central.judge.answer("garage-1", TokenRef(FOUND, TokenKind.RFID), 1, central.clock.now())
    assert not decision.accepted


async def test_it_shows_members_cards_groups_and_the_card_just_held(forewoman: Visitor, held: None) -> None:
    shown = (await forewoman.get(PAGE)).text
    for text in ("Flat 12", CARD, "blue", "valid", FOUND, "at Bay 1, 02 Nov 12:00", "Group Residents"):
        assert text in shown
    assert "Times are those of Europe/Oslo" in shown
    assert "Nobody may charge here yet." in shown


async def test_a_held_card_is_given_to_a_member(forewoman: Visitor, held: None, central: Central) -> None:
    done = await forewoman.send(f"{PAGE}/cards/adopt", text=FOUND, member_id="flat-12", label="spare")
    assert done.url.path == PAGE
    assert f"Card {FOUND} is now of Flat 12." in done.text
    assert "Nothing waits here." in done.text
    token = await central.tokens.find(FOUND)
    assert token is not None
    assert (token.member_id, token.label) == ("flat-12", "spare")
    again = await forewoman.send(f"{PAGE}/cards/adopt", text=FOUND, member_id="flat-12")
    assert f"Not done: there is no unknown card {FOUND}." in again.text


async def test_a_held_card_is_forgotten(forewoman: Visitor, held: None, central: Central) -> None:
    done = await forewoman.send(f"{PAGE}/cards/dismiss", text=FOUND)
    assert f"Card {FOUND} is forgotten." in done.text
    assert await central.unknown_cards.latest(site_id="weavers-yard") == ()
    assert await central.tokens.find(FOUND) is None


async def test_a_card_is_blocked_and_unblocked(forewoman: Visitor, garage: None, central: Central) -> None:
    done = await forewoman.send(f"{PAGE}/cards/block", token_id="tok-12")
    assert f"Card {CARD} is blocked. A session that runs goes on." in done.text
    assert (await central.tokens.get("tok-12")).blocked
    assert f'aria-label="Unblock card {CARD}"' in done.text
    done = await forewoman.send(f"{PAGE}/cards/unblock", token_id="tok-12")
    assert f"Card {CARD} is no longer blocked." in done.text
    assert not (await central.tokens.get("tok-12")).blocked


async def test_a_card_is_added_by_its_number_and_only_once(
    forewoman: Visitor, garage: None, central: Central
) -> None:
    done = await forewoman.send(f"{PAGE}/cards/new", text="04:ff:01", member_id="flat-12", label="new")
    assert "Card 04:ff:01 is added." in done.text
    token = await central.tokens.find("04FF01")
    assert token is not None
    assert (token.member_id, token.label) == ("flat-12", "new")
    again = await forewoman.send(f"{PAGE}/cards/new", text="04FF01", member_id="flat-12")
    assert "Not done: " in again.text
    assert (await forewoman.send(f"{PAGE}/cards/new", text=" ", member_id="flat-12")).text.count("Not done: ")


@pytest.mark.parametrize("who", ["member:flat-12", "group:residents"])
@pytest.mark.parametrize("where", ["site:weavers-yard", "circuit:main", "station:garage-1"])
async def test_a_right_is_given_and_taken(
    forewoman: Visitor, garage: None, central: Central, who: str, where: str
) -> None:
    done = await forewoman.send(f"{PAGE}/rights/give", who=who, where=where)
    assert "The right is given." in done.text
    (right,) = (await central.rights.list(site_id="weavers-yard")).items
    kind, _, key = who.partition(":")
    assert (right.member_id if kind == "member" else right.group_id) == key
    kind, _, key = where.partition(":")
    places = {"site": right.site_id, "circuit": right.circuit_id, "station": right.station_id}
    assert places[kind] == key
    assert f'name="right_id" value="{right.id}"' in done.text
    done = await forewoman.send(f"{PAGE}/rights/take", right_id=right.id)
    assert "The right is taken away." in done.text
    assert (await central.rights.list(site_id="weavers-yard")).items == ()


@pytest.mark.parametrize(
    ("form", "fields", "says"),
    [
        ("cards/block", {"token_id": "nothing"}, "there is no token nothing"),
        ("cards/unblock", {"token_id": "nothing"}, "there is no token nothing"),
        ("cards/dismiss", {"text": "nothing"}, "there is no unknown card nothing"),
        ("cards/new", {"text": "04FF", "member_id": "nobody"}, "member_id: there is no member"),
        ("rights/take", {"right_id": "nothing"}, "there is no right nothing"),
        ("rights/give", {"who": "member:nobody", "where": "site:weavers-yard"}, "there is no member"),
        ("rights/give", {"who": "member:flat-12", "where": "circuit:attic"}, "there is no circuit"),
        ("rights/give", {"who": "everyone:", "where": "site:weavers-yard"}, "choose who gets the right"),
    ],
)
async def test_what_is_not_there_is_said_and_nothing_changes(
    forewoman: Visitor, garage: None, central: Central, form: str, fields: dict[str, str], says: str
) -> None:
    done = await forewoman.send(f"{PAGE}/{form}", **fields)
    assert (done.status_code, done.url.path) == (200, PAGE)
    assert "Not done: " in done.text
    assert says in done.text
    assert (await central.rights.list(site_id="weavers-yard")).items == ()
    assert len((await central.tokens.list(site_id="weavers-yard")).items) == 1


async def test_find_shows_the_members_that_match(
    forewoman: Visitor, garage: None, manager: httpx.AsyncClient
) -> None:
    await manager.post("/v1/members", json={"id": "tuner", "site_id": "weavers-yard", "name": "Piano tuner"})
    both, one = await forewoman.get(PAGE), await forewoman.get(f"{PAGE}?find=b2c3")
    assert "2 of 2" in both.text
    assert "1 of 2" in one.text
    assert "<td>Piano tuner" in both.text
    assert "<td>Piano tuner" not in one.text
    assert "No member, group or card like that." in (await forewoman.get(f"{PAGE}?find=zebra")).text


async def test_hostile_names_are_text(forewoman: Visitor, garage: None, central: Central) -> None:
    bad = '"><script>alert(1)</script>'
    person = await central.members.create(site_id="weavers-yard", name=bad)
    await central.tokens.create(text=bad, member_id=person.id, label=bad)
    await central.judge.answer("garage-1", TokenRef(f"x{bad}", TokenKind.RFID), 1, central.clock.now())
    for address in (PAGE, f"{PAGE}?find={bad}", "/sites/weavers-yard"):
        shown = (await forewoman.get(address)).text
        assert "<script>alert" not in shown
        assert "&lt;script&gt;alert" in shown
    done = await forewoman.send(f"{PAGE}/cards/dismiss", text=f"x{bad}")
    assert "is forgotten" in done.text
    assert "<script>alert" not in done.text


async def test_a_reader_sees_the_page(onlooker: Visitor, garage: None) -> None:
    assert CARD in (await onlooker.get(PAGE)).text
