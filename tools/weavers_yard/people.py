"""Who lives, works and visits at Weavers' Yard: members, their cards, their cars. All invented."""

from dataclasses import dataclass
from enum import StrEnum
from random import Random
from typing import Final

from tools.simulator.car import CarModel

FLATS: Final = 48
VANS: Final = 6
SEED: Final = 1848
"""The year over the mill's door."""

NAMES: Final = (
    "Alderwick",
    "Bramley-Tow",
    "Carrowgate",
    "Dunnockshaw",
    "Elverstone",
    "Fennimoor",
    "Garthwold",
    "Hebblewick",
    "Inkersby",
    "Jessomere",
    "Kettlethwaite",
    "Larkspindle",
    "Mossgill",
    "Netherbobbin",
    "Orrelby",
    "Pirncroft",
    "Quillander",
    "Ravensett",
    "Shuttlecombe",
    "Teasdrop",
    "Underloom",
    "Velverton",
    "Warpington",
    "Yarnfold",
)
"""Made-up surnames; each of them lives in two flats."""

RESIDENTS: Final = "Residents"
BAKERY: Final = "Bakery vans"
GUESTS: Final = "Guests with a pass"


class MemberKind(StrEnum):
    FLAT = "flat"
    PERSON = "person"
    VEHICLE = "vehicle"


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """`group` None: known to the house, with no right to charge anywhere. `full_by`: local time "HH:MM"."""

    name: str
    kind: MemberKind
    group: str | None
    full_by: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """An RFID card: seven bytes in hex, as ISO 14443 cards have. `member` names its holder."""

    uid: str
    member: str
    label: str
    blocked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver:
    """A member with a card and a car."""

    member: str
    card: str
    car: CarModel


CARS: Final = (
    CarModel(name="Wicket", battery_wh=42_000, lines=1, max_current_a=32, taper_from=0.8),
    CarModel(name="Lantern", battery_wh=58_000, lines=3, max_current_a=16),
    CarModel(name="Heron", battery_wh=77_000, lines=3, max_current_a=16, taper_from=0.9),
    CarModel(name="Hatch", battery_wh=36_000, lines=1, max_current_a=16, sleeps_after_s=5400),
    CarModel(name="Barge", battery_wh=94_000, lines=3, max_current_a=32),
    CarModel(name="Duo", battery_wh=50_000, lines=2, max_current_a=16),
)
VAN: Final = CarModel(name="Loaf van", battery_wh=68_000, lines=3, max_current_a=16, taper_from=0.9)


def flat(number: int) -> Member:
    name = f"Flat {number}, {NAMES[(number - 1) % len(NAMES)]}"
    return Member(name=name, kind=MemberKind.FLAT, group=RESIDENTS)


def van(number: int) -> Member:
    return Member(name=f"Bakery van {number}", kind=MemberKind.VEHICLE, group=BAKERY, full_by="06:00")


PASS_HOLDERS: Final = (
    Member(name="Piano tuner", kind=MemberKind.PERSON, group=GUESTS),
    Member(name="Window cleaner", kind=MemberKind.PERSON, group=GUESTS),
    Member(name="Flat 7's daughter", kind=MemberKind.PERSON, group=GUESTS),
)
NO_RIGHTS: Final = Member(name="Former tenant", kind=MemberKind.PERSON, group=None)
MEMBERS: Final = (
    *(flat(number) for number in range(1, FLATS + 1)),
    *(van(number) for number in range(1, VANS + 1)),
    *PASS_HOLDERS,
    NO_RIGHTS,
)
DRIVING_FLATS: Final = (2, 3, 5, 8, 11, 14, 17, 19, 22, 26, 30, 33, 37, 41, 44, 47)
"""Flats that have a car."""

LOST_CARD_FLAT: Final = 23


def _make_cards() -> tuple[Card, ...]:
    random = Random(SEED)
    cards = []
    for member in MEMBERS:
        cards.append(Card(uid=f"04{random.getrandbits(48):012X}", member=member.name, label="card"))
        if member.name == flat(LOST_CARD_FLAT).name:
            uid = f"04{random.getrandbits(48):012X}"
            cards.append(Card(uid=uid, member=member.name, label="lost in the canal", blocked=True))
    return tuple(cards)


CARDS: Final = _make_cards()
UNKNOWN_CARD: Final = "04D15EA5ED0B0B"
"""Held to a reader by somebody whom nobody knows."""


def card_of(member: str, *, blocked: bool = False) -> str:
    """Raises ValueError for a member without such a card."""
    for card in CARDS:
        if card.member == member and card.blocked == blocked:
            return card.uid
    raise ValueError(f"{member} has no {'blocked ' if blocked else ''}card")


def residents() -> tuple[Driver, ...]:
    """The flats with a car; the kinds of car go round in turn."""
    names = (flat(number).name for number in DRIVING_FLATS)
    return tuple(
        Driver(member=name, card=card_of(name), car=CARS[n % len(CARS)]) for n, name in enumerate(names)
    )


def vans() -> tuple[Driver, ...]:
    names = (van(number).name for number in range(1, VANS + 1))
    return tuple(Driver(member=name, card=card_of(name), car=VAN) for name in names)


def guests() -> tuple[Driver, ...]:
    return tuple(
        Driver(member=member.name, card=card_of(member.name), car=CARS[(n + 1) % len(CARS)])
        for n, member in enumerate(PASS_HOLDERS)
    )
