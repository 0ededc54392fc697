"""May this token charge here and now? A pure function, and its reasons.

The rules in their order; the first that refuses is the reason:

1. a token without a name needs a right of everyone
2. the token is known, else it needs a right of everyone
3. it is not blocked
4. its time has come and is not over
5. its member is active
6. the member, one of its groups, or everyone has a right that holds at this station
7. it has no other session that is running (only where a session begins)
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from csms.access.members.member import Member
from csms.access.rights.right import Place, Right, covers
from csms.access.tokens.token import WITHOUT_CARD, Token, fold, shown
from csms.stations.model import TokenAnswer, TokenRef, Verdict

SILENT_AFTER = timedelta(hours=24)
"""A session not heard of for so long keeps nobody from charging: its stop was lost."""


class Reason(StrEnum):
    """Why; the first two are grants."""

    OK = "ok"
    OPEN_TO_ALL = "open_to_all"
    NO_TOKEN = "no_token"  # noqa: S105
    UNKNOWN_TOKEN = "unknown_token"  # noqa: S105
    BLOCKED = "blocked"
    NOT_YET_VALID = "not_yet_valid"
    EXPIRED = "expired"
    MEMBER_INACTIVE = "member_inactive"
    NO_RIGHT_HERE = "no_right_here"
    ALREADY_CHARGING = "already_charging"


VERDICTS: dict[Reason, Verdict] = {
    Reason.OK: Verdict.ACCEPTED,
    Reason.OPEN_TO_ALL: Verdict.ACCEPTED,
    Reason.NO_TOKEN: Verdict.UNKNOWN,
    Reason.UNKNOWN_TOKEN: Verdict.UNKNOWN,
    Reason.BLOCKED: Verdict.BLOCKED,
    Reason.NOT_YET_VALID: Verdict.NOT_NOW,
    Reason.EXPIRED: Verdict.EXPIRED,
    Reason.MEMBER_INACTIVE: Verdict.BLOCKED,
    Reason.NO_RIGHT_HERE: Verdict.NOT_HERE,
    Reason.ALREADY_CHARGING: Verdict.CONCURRENT,
}


@dataclass(frozen=True, slots=True)
class Known:
    """A token of ours with its member, and the ids of the member's groups."""

    token: Token
    member: Member
    groups: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Running:
    """A session of the token that has not ended. `heard_at`: its last sign of life."""

    session_id: int
    station_id: str
    evse: int | None
    started_at: datetime
    heard_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """The verdict, the rule behind it, and a sentence for people. `right_id`: what granted it."""

    verdict: Verdict
    reason: Reason
    sentence: str
    presented: TokenRef
    folded: str
    token_id: str | None = None
    member_id: str | None = None
    member_name: str = ""
    expires_at: datetime | None = None
    group_text: str = ""
    right_id: str | None = None

    @property
    def accepted(self) -> bool:
        return self.verdict is Verdict.ACCEPTED

    @property
    def answer(self) -> TokenAnswer:
        """What the station is told of it."""
        return TokenAnswer(self.verdict, self.expires_at, self.group_text or None)


def decide(
    presented: TokenRef,
    *,
    known: Known | None,
    place: Place,
    rights: Sequence[Right],
    running: Sequence[Running] = (),
    evse: int | None = None,
    now: datetime,
) -> Decision:
    """Whether `presented` may charge at `place` at `now`.

    `rights` may hold more than those that matter. `running` are open sessions of the same token;
    one on this very EVSE is about to be replaced and does not count, nor one that began later.
    """
    nameless = presented.kind in WITHOUT_CARD or not fold(presented.text)
    called = "Charging without a card" if nameless else f"Token {shown(presented.text)}"
    if known is not None:
        called = f"{called} of {known.member.name}"
    here = [right for right in rights if covers(right, place)]
    everyone = next((right for right in here if right.for_everyone), None)

    def decision(reason: Reason, sentence: str, right: Right | None = None) -> Decision:
        return Decision(
            verdict=VERDICTS[reason],
            reason=reason,
            sentence=f"{called} {sentence}",
            presented=presented,
            folded="" if nameless else fold(presented.text),
            token_id=known.token.id if known else None,
            member_id=known.member.id if known else None,
            member_name=known.member.name if known else "",
            expires_at=known.token.valid_to if known else None,
            group_text=known.token.group_text if known else "",
            right_id=right.id if right else None,
        )

    if nameless or known is None:
        if everyone is not None:
            return decision(Reason.OPEN_TO_ALL, "may charge: the place is open to everyone", everyone)
        if nameless:
            return decision(Reason.NO_TOKEN, f"is not allowed at {place.station_id}")
        return decision(Reason.UNKNOWN_TOKEN, "is not known here")
    token = known.token
    if token.blocked:
        return decision(Reason.BLOCKED, "is blocked")
    if token.valid_from is not None and now < token.valid_from:
        return decision(Reason.NOT_YET_VALID, f"is valid from {token.valid_from:%Y-%m-%d %H:%M} UTC on")
    if token.valid_to is not None and now >= token.valid_to:
        return decision(Reason.EXPIRED, f"was valid until {token.valid_to:%Y-%m-%d %H:%M} UTC")
    if not known.member.active:
        return decision(Reason.MEMBER_INACTIVE, "may not charge: the member is not active")
    own = next((r for r in here if r.member_id == known.member.id or r.group_id in known.groups), None)
    right = own or everyone
    if right is None:
        return decision(Reason.NO_RIGHT_HERE, f"has no right at {place.station_id}")
    for session in running:
        if (session.station_id, session.evse) == (place.station_id, evse):
            continue
        if session.started_at <= now and now - session.heard_at < SILENT_AFTER:
            return decision(Reason.ALREADY_CHARGING, f"is charging at {session.station_id} already", right)
    if own is None:
        return decision(Reason.OPEN_TO_ALL, "may charge: the place is open to everyone", right)
    return decision(Reason.OK, "may charge", right)
