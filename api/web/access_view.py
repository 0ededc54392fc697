"""What the page Access shows, out of what the services say. Pure."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from api.web.order import natural
from api.web.site_view import kilowatt_hours
from csms.access.cards.card import UnknownCard
from csms.access.groups.group import Group
from csms.access.members.member import Member
from csms.access.rights.right import Right
from csms.access.tokens.token import Token
from csms.money import Currency, Money
from csms.sessions.session import Session, State


@dataclass(frozen=True, slots=True)
class CardRow:
    """A card of a member; `state` is one of good, wait (not valid now), bad (blocked)."""

    id: str
    text: str
    label: str
    blocked: bool
    state: str
    says: str


@dataclass(frozen=True, slots=True)
class MemberRow:
    id: str
    name: str
    kind: str
    active: bool
    groups: str
    cards: tuple[CardRow, ...]


@dataclass(frozen=True, slots=True)
class RightPlace:
    """Where a right holds; `id` is the right's."""

    id: str
    where: str


@dataclass(frozen=True, slots=True)
class RightRow:
    """All rights of one member, group, or everyone."""

    who: str
    places: tuple[RightPlace, ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """An entry of a list to choose from; `value` carries the kind as well, e.g. `group:grp_1`."""

    value: str
    text: str


def _day(at: datetime, zone: str) -> str:
    return at.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d %H:%M")


def card_row(token: Token, now: datetime, zone: str) -> CardRow:
    """What the page says of a card at `now`, in the site's time `zone`."""
    if token.blocked:
        state, says = "bad", "blocked"
    elif token.valid_from is not None and now < token.valid_from:
        state, says = "wait", f"valid from {_day(token.valid_from, zone)}"
    elif token.valid_to is not None and now >= token.valid_to:
        state, says = "wait", f"expired {_day(token.valid_to, zone)}"
    else:
        state, says = "good", "valid"
    return CardRow(token.id, token.text, token.label, token.blocked, state, says)


def member_rows(
    members: Iterable[Member],
    tokens: Iterable[Token],
    inside: Iterable[tuple[Group, Sequence[str]]],
    now: datetime,
    zone: str,
) -> tuple[MemberRow, ...]:
    """Members by name, each with its cards and groups; those out of use at the end.

    `inside`: each group with the ids of its members.
    """
    groups: dict[str, list[str]] = {}
    for group, member_ids in inside:
        for member_id in member_ids:
            groups.setdefault(member_id, []).append(group.name)
    cards: dict[str, list[CardRow]] = {}
    for token in tokens:
        cards.setdefault(token.member_id, []).append(card_row(token, now, zone))
    rows = [
        MemberRow(
            member.id,
            member.name,
            member.kind.value,
            member.active,
            ", ".join(sorted(groups.get(member.id, ()))),
            tuple(sorted(cards.get(member.id, ()), key=lambda card: (card.label, card.text))),
        )
        for member in members
    ]
    return tuple(sorted(rows, key=lambda row: (not row.active, natural(row.name))))


def matching(rows: Iterable[MemberRow], words: str) -> tuple[MemberRow, ...]:
    """The rows in which every word occurs: in the name, kind, groups, or a card."""
    wanted = words.casefold().split()
    return tuple(row for row in rows if all(word in _text(row) for word in wanted))


def right_rows(rights: Iterable[Right], names: Mapping[str, str]) -> tuple[RightRow, ...]:
    """Rights in words; `names` gives the name of every member, group, site, circuit and station."""
    places: dict[str, list[RightPlace]] = {}
    for right in rights:
        who = right.member_id or right.group_id
        where = right.station_id or right.circuit_id or right.site_id
        below = " and what it feeds" if right.circuit_id and not right.station_id else ""
        who_text = names.get(who, who) if who else "Everyone, also without a card"
        places.setdefault(who_text, []).append(RightPlace(right.id, names.get(where, where) + below))
    return tuple(
        RightRow(who, tuple(sorted(places[who], key=lambda place: natural(place.where))))
        for who in sorted(places, key=natural)
    )


@dataclass(frozen=True, slots=True)
class HeldCard:
    """A card that is nobody's, and where it was held last."""

    text: str
    where: str
    at: datetime
    times: int


def held_cards(cards: Iterable[UnknownCard], names: Mapping[str, str]) -> tuple[HeldCard, ...]:
    """Unknown cards, the one held last first."""
    return tuple(
        HeldCard(card.text, names.get(card.station_id, card.station_id), card.last_seen_at, card.times)
        for card in sorted(cards, key=lambda card: card.last_seen_at, reverse=True)
    )


@dataclass(frozen=True, slots=True)
class SessionRow:
    """A session of lately. `ended` None while it runs: then `says` tells how it stands. `cost` "" until
    it has a price."""

    began: datetime
    ended: datetime | None
    says: str
    who: str
    bay: str
    energy: str
    cost: str


def session_row(session: Session, names: Mapping[str, str]) -> SessionRow:
    """A session in words; `names` gives the name of every member and station."""
    cost = ""
    if session.cost_incl_minor is not None and session.currency:
        cost = str(Money(session.cost_incl_minor, Currency(session.currency)))
    if session.member_id:
        who = names.get(session.member_id, session.member_id)
    else:
        who = f"unknown card {session.token_text}" if session.token_text else "no card"
    return SessionRow(
        session.started_at,
        session.ended_at,
        STANDS.get(session.state, "plugged in"),
        who,
        names.get(session.station_id, session.station_id),
        kilowatt_hours(session.energy_wh),
        cost,
    )


STANDS: Mapping[State, str] = {State.CHARGING: "charging", State.CLOSED: "end not told", State.ENDED: "ended"}


def _text(row: MemberRow) -> str:
    cards = " ".join(f"{card.text} {card.label} {card.says}" for card in row.cards)
    return f"{row.name} {row.kind} {row.groups} {cards}".casefold()
