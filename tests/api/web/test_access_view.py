"""What the page Access says, as values."""

from datetime import UTC, datetime, timedelta

import pytest

from api.web import access_view
from api.web.access_view import CardRow, HeldCard, RightPlace, RightRow, SessionRow
from csms.access.cards.card import UnknownCard
from csms.access.groups.group import Group
from csms.access.members.member import Member, MemberKind
from csms.access.rights.right import Right
from csms.access.tokens.token import Token
from csms.sessions.session import Session, State
from csms.stations.model import TokenKind

NOW = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)
ZONE = "Europe/Oslo"
NAMES = {"flat-2": "Flat 2", "residents": "Residents", "main": "Supply", "bay-1": "Bay 1", "yard": "The yard"}


def token(**changes: object) -> Token:
    values: dict[str, object] = {
        "id": "tok-1",
        "folded": "04ab",
        "text": "04AB",
        "kind": TokenKind.RFID,
        "member_id": "flat-2",
        "created_at": NOW,
    }
    return Token(**(values | changes))  # type: ignore[arg-type]


def member(id: str, name: str, *, active: bool = True) -> Member:
    return Member(id=id, site_id="yard", name=name, kind=MemberKind.FLAT, active=active, created_at=NOW)


@pytest.mark.parametrize(
    ("changes", "state", "says"),
    [
        ({}, "good", "valid"),
        ({"blocked": True, "valid_to": NOW}, "bad", "blocked"),
        ({"valid_from": NOW + timedelta(hours=2)}, "wait", "valid from 2026-11-02 14:00"),
        ({"valid_from": NOW}, "good", "valid"),
        ({"valid_to": NOW}, "wait", "expired 2026-11-02 12:00"),
        ({"valid_to": NOW + timedelta(seconds=1)}, "good", "valid"),
    ],
)
def test_how_a_card_stands(changes: dict[str, object], state: str, says: str) -> None:
    row = access_view.card_row(token(label="blue", **changes), NOW, ZONE)
    assert row == CardRow("tok-1", "04AB", "blue", bool(changes.get("blocked")), state, says)


def rows() -> tuple[access_view.MemberRow, ...]:
    return access_view.member_rows(
        [member("flat-10", "Flat 10"), member("gone", "Flat 1", active=False), member("flat-2", "Flat 2")],
        [token(id="tok-2", text="04CD", label="red"), token(label="blue")],
        [
            (Group(id="residents", site_id="yard", name="Residents", created_at=NOW), ["flat-2", "flat-10"]),
            (Group(id="crew", site_id="yard", name="Crew", created_at=NOW), ["flat-2"]),
        ],
        NOW,
        ZONE,
    )


def test_members_stand_by_name_with_their_cards_and_groups() -> None:
    found = rows()
    assert [row.name for row in found] == ["Flat 2", "Flat 10", "Flat 1"], "out of use comes last"
    assert [card.label for card in found[0].cards] == ["blue", "red"]
    assert (found[0].groups, found[1].groups, found[2].groups) == ("Crew, Residents", "Residents", "")
    assert (found[0].kind, found[2].active, found[1].cards) == ("flat", False, ())


@pytest.mark.parametrize(
    ("words", "ids"),
    [
        ("", ["flat-2", "flat-10", "gone"]),
        ("FLAT 10", ["flat-10", "gone"][:1]),
        ("04cd", ["flat-2"]),
        ("residents red", ["flat-2"]),
        ("crew 10", []),
    ],
)
def test_every_word_has_to_occur(words: str, ids: list[str]) -> None:
    assert [row.id for row in access_view.matching(rows(), words)] == ids


def test_rights_are_told_by_who_has_them() -> None:
    def right(id: str, **where: str) -> Right:
        return Right(id=id, site_id="yard", created_at=NOW, **where)

    found = access_view.right_rows(
        [
            right("1", group_id="residents", circuit_id="main"),
            right("2", group_id="residents", station_id="bay-1"),
            right("3", member_id="flat-2"),
            right("4", station_id="bay-9"),
        ],
        NAMES,
    )
    assert found == (
        RightRow("Everyone, also without a card", (RightPlace("4", "bay-9"),)),
        RightRow("Flat 2", (RightPlace("3", "The yard"),)),
        RightRow("Residents", (RightPlace("2", "Bay 1"), RightPlace("1", "Supply and what it feeds"))),
    )


def test_the_card_held_last_stands_first() -> None:
    def card(text: str, minutes: int, station_id: str) -> UnknownCard:
        at = NOW + timedelta(minutes=minutes)
        return UnknownCard(
            folded=text.lower(),
            text=text,
            kind=TokenKind.RFID,
            station_id=station_id,
            evse=1,
            first_seen_at=NOW,
            last_seen_at=at,
            times=minutes,
        )

    found = access_view.held_cards([card("04AA", 1, "bay-1"), card("04BB", 2, "bay-9")], NAMES)
    assert found == (
        HeldCard("04BB", "bay-9", NOW + timedelta(minutes=2), 2),
        HeldCard("04AA", "Bay 1", NOW + timedelta(minutes=1), 1),
    )


def session(**changes: object) -> Session:
    values: dict[str, object] = {
        "station_id": "bay-1",
        "member_id": "flat-2",
        "token_text": "04AB",
        "started_at": NOW,
        "arrived_at": NOW,
        "energy_wh": 12345,
        "state": State.CHARGING,
    }
    return Session(**(values | changes))  # type: ignore[arg-type]


def test_a_session_that_runs_has_no_price_yet() -> None:
    expected = SessionRow(NOW, None, "charging", "Flat 2", "Bay 1", "12.35 kWh", "")
    assert access_view.session_row(session(), NAMES) == expected
    assert access_view.session_row(session(state=State.SUSPENDED), NAMES).says == "plugged in"
    assert access_view.session_row(session(state=State.CLOSED), NAMES).says == "end not told"


def test_a_session_that_has_ended_has_its_cost_with_currency() -> None:
    ended = session(state=State.ENDED, ended_at=NOW, cost_incl_minor=358, currency="EUR")
    row = access_view.session_row(ended, NAMES)
    assert (row.ended, row.says, row.cost) == (NOW, "ended", "3.58 EUR")


def test_whose_card_it_was_when_it_was_nobodys() -> None:
    assert access_view.session_row(session(member_id=None), NAMES).who == "unknown card 04AB"
    assert access_view.session_row(session(member_id=None, token_text=""), NAMES).who == "no card"
