"""The verdict and its reason, rule by rule."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from csms.access.members.member import Member, MemberKind
from csms.access.rights.right import Place, Right
from csms.access.tokens.token import Token
from csms.access.verdict.decide import VERDICTS, Decision, Known, Reason, Running, decide
from csms.stations.model import TokenKind, TokenRef, Verdict

NOW = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
BAY = Place("YARD-01", "weavers-yard", ("courtyard", "supply"))
CARD = TokenRef("04:A1:B2")
FLAT = Member(id="flat-12", site_id="weavers-yard", kind=MemberKind.FLAT, name="Flat 12", created_at=NOW)
TOKEN = Token(
    id="tok-12",
    folded="04a1b2",
    text="04A1B2",
    kind=TokenKind.RFID,
    member_id="flat-12",
    group_text="family",
    created_at=NOW,
)
OWN = Right(id="own", site_id="weavers-yard", member_id="flat-12", circuit_id="courtyard", created_at=NOW)
GROUP = Right(id="group", site_id="weavers-yard", group_id="residents", created_at=NOW)
EVERYONE = Right(id="open", site_id="weavers-yard", station_id="YARD-01", created_at=NOW)


def ask(
    presented: TokenRef = CARD,
    *,
    token: Token | None = TOKEN,
    member: Member = FLAT,
    groups: frozenset[str] = frozenset(),
    place: Place = BAY,
    rights: tuple[Right, ...] = (OWN,),
    running: tuple[Running, ...] = (),
    evse: int | None = 1,
) -> Decision:
    known = None if token is None else Known(token, member, groups)
    return decide(presented, known=known, place=place, rights=rights, running=running, evse=evse, now=NOW)


def elsewhere(started_at: datetime = NOW - HOUR, heard_at: datetime = NOW) -> Running:
    return Running(7, "YARD-02", 1, started_at=started_at, heard_at=heard_at)


def test_a_right_of_its_own_is_a_grant_and_the_station_is_told_what_it_may_keep() -> None:
    decision = ask(token=replace(TOKEN, valid_to=NOW + HOUR))
    assert (decision.reason, decision.right_id, decision.member_id) == (Reason.OK, "own", "flat-12")
    assert decision.sentence == "Token 04:A1:B2 of Flat 12 may charge"
    assert decision.answer.verdict is Verdict.ACCEPTED
    assert decision.answer.expires_at == NOW + HOUR
    assert decision.answer.group == "family"


def test_the_group_s_right_counts_for_its_members_only() -> None:
    assert ask(groups=frozenset({"residents"}), rights=(GROUP,)).reason is Reason.OK
    assert ask(rights=(GROUP,)).reason is Reason.NO_RIGHT_HERE


@pytest.mark.parametrize(
    ("decision", "reason", "verdict"),
    [
        (ask(token=None), Reason.UNKNOWN_TOKEN, Verdict.UNKNOWN),
        (ask(token=None, rights=()), Reason.UNKNOWN_TOKEN, Verdict.UNKNOWN),
        (ask(TokenRef("", TokenKind.NONE), token=None), Reason.NO_TOKEN, Verdict.UNKNOWN),
        (ask(TokenRef("key switch", TokenKind.LOCAL), token=None), Reason.NO_TOKEN, Verdict.UNKNOWN),
        (ask(TokenRef(" - "), token=None), Reason.NO_TOKEN, Verdict.UNKNOWN),
        (ask(token=replace(TOKEN, blocked=True)), Reason.BLOCKED, Verdict.BLOCKED),
        (ask(token=replace(TOKEN, valid_from=NOW + HOUR)), Reason.NOT_YET_VALID, Verdict.NOT_NOW),
        (ask(token=replace(TOKEN, valid_from=NOW)), Reason.OK, Verdict.ACCEPTED),
        (ask(token=replace(TOKEN, valid_to=NOW)), Reason.EXPIRED, Verdict.EXPIRED),
        (ask(member=replace(FLAT, active=False)), Reason.MEMBER_INACTIVE, Verdict.BLOCKED),
        (ask(rights=()), Reason.NO_RIGHT_HERE, Verdict.NOT_HERE),
        (ask(place=replace(BAY, path=("bakery", "supply"))), Reason.NO_RIGHT_HERE, Verdict.NOT_HERE),
        (ask(place=Place("NEW-01")), Reason.NO_RIGHT_HERE, Verdict.NOT_HERE),
        (ask(running=(elsewhere(),)), Reason.ALREADY_CHARGING, Verdict.CONCURRENT),
    ],
)
def test_each_rule_refuses_with_its_own_reason(decision: Decision, reason: Reason, verdict: Verdict) -> None:
    assert (decision.reason, decision.verdict) == (reason, verdict)
    assert decision.accepted == (verdict is Verdict.ACCEPTED)


def test_an_open_place_takes_who_comes_but_not_who_was_blocked() -> None:
    assert ask(token=None, rights=(EVERYONE,)).reason is Reason.OPEN_TO_ALL
    assert ask(TokenRef("", TokenKind.NONE), token=None, rights=(EVERYONE,)).reason is Reason.OPEN_TO_ALL
    assert ask(rights=(EVERYONE,)).reason is Reason.OPEN_TO_ALL
    assert ask(rights=(EVERYONE, OWN)).reason is Reason.OK
    assert ask(token=replace(TOKEN, blocked=True), rights=(EVERYONE,)).reason is Reason.BLOCKED
    assert ask(token=None, rights=(EVERYONE,), place=replace(BAY, station_id="YARD-02")).reason is (
        Reason.UNKNOWN_TOKEN
    )


def test_a_session_counts_as_running_only_if_it_can_be() -> None:
    same_bay = Running(7, "YARD-01", 1, started_at=NOW - HOUR, heard_at=NOW)
    assert ask(running=(same_bay,)).reason is Reason.OK
    assert ask(running=(same_bay,), evse=2).reason is Reason.ALREADY_CHARGING
    assert ask(running=(elsewhere(heard_at=NOW - timedelta(days=2)),)).reason is Reason.OK
    # A start that was replayed late: what began after it was not running then.
    assert ask(running=(elsewhere(started_at=NOW + HOUR, heard_at=NOW + HOUR),)).reason is Reason.OK


def test_every_reason_has_a_verdict() -> None:
    assert set(VERDICTS) == set(Reason)
    granted = {reason for reason, verdict in VERDICTS.items() if verdict is Verdict.ACCEPTED}
    assert granted == {Reason.OK, Reason.OPEN_TO_ALL}
