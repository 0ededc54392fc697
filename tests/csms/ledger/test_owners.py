"""Whose a session's energy is, and where it is cut."""

from dataclasses import replace
from datetime import UTC, datetime

from csms.access.ownerships.ownership import Ownership, Thing
from csms.ledger.inputs import GUESTS
from csms.ledger.owners import Owners
from csms.ledger.registers import SessionRow

MOVED = datetime(2026, 3, 15, tzinfo=UTC)
AT = int(MOVED.timestamp())
ROW = SessionRow(
    id=1,
    station_id="bay",
    evse=1,
    token_id="tok",
    token_text="tok",
    member_id="a",
    known=True,
    started=AT - 3600,
    ended=AT + 3600,
    arrived=AT,
    register_start_wh=None,
    register_stop_wh=None,
    energy_wh=0,
    marked=False,
)


def owns(
    member: str, thing: Thing, from_at: datetime | None = None, to_at: datetime | None = None
) -> Ownership:
    return Ownership(
        id="own",
        site_id="yard",
        thing=thing,
        member_id=member,
        from_at=from_at,
        to_at=to_at,
        created_at=MOVED,
    )


TOKEN = Thing(token_id="tok")
BAY = Thing(station_id="bay", evse=0)


def test_the_tokens_history_decides_and_cuts_where_it_changes_hands() -> None:
    owners = Owners.of("ab", [owns("a", TOKEN, None, MOVED), owns("b", TOKEN, MOVED)])
    assert owners.cuts(ROW, ROW.started, AT + 3600) == [AT]
    assert owners.account(ROW, AT - 1) == "a"
    assert owners.account(ROW, AT) == "b"
    assert owners.cuts(ROW, AT, AT + 3600) == []


def test_a_change_that_is_none_cuts_nothing() -> None:
    owners = Owners.of("a", [owns("a", TOKEN, None, MOVED), owns("a", TOKEN, MOVED)])
    assert owners.cuts(ROW, ROW.started, AT + 3600) == []


def test_before_the_history_the_session_says_whose_it_was() -> None:
    owners = Owners.of("abc", [owns("b", TOKEN, MOVED)])
    assert owners.account(replace(ROW, member_id="c"), AT - 1) == "c"


def test_energy_that_no_token_claims_is_the_places_owners_then_a_guests_then_unknown() -> None:
    loose = replace(ROW, token_id=None, member_id=None)
    assert Owners.of("a", [owns("a", BAY)]).account(loose, AT) == "a"
    assert Owners.of("a", [owns("a", replace_evse(2))]).account(loose, AT) == GUESTS
    assert Owners.of("a", []).account(loose, AT) == GUESTS
    assert Owners.of("a", []).account(replace(loose, known=False), AT) == ""
    assert Owners.of("a", [owns("gone", BAY)]).account(loose, AT) == GUESTS


def replace_evse(evse: int) -> Thing:
    return Thing(station_id="bay", evse=evse)
