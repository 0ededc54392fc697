"""Weavers' Yard as plain data: supply, boards, bays, groups, rights and tariffs. No server, no protocol.

One supply of 3 x 63 A (TN-400) feeds the common parts and two boards. The fallbacks are chosen so that they
fit with everything at its worst: six van bays at 6 A (36 A per line) beside 22 A of common parts stay under
63 A and under the Mill board's 40 A; all other bays fall back to nothing.
"""

from dataclasses import dataclass
from typing import Any, Final

from tools.simulator.fleet import ROTATIONS
from tools.simulator.station import Version
from tools.weavers_yard import people


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """`limit_a` per line; `worst_base_a` is what else may flow through it per line at worst. `fed_from`
    None: the supply."""

    name: str
    fed_from: str | None
    limit_a: float
    worst_base_a: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bay:
    """A parking bay with its station. `wiring[n]` is the line (0, 1, 2) of the supply at the station's
    terminal n.

    `fallback_a` is what the station may give when it cannot hear us: 0, or 6 A and more.
    """

    name: str
    identity: str
    password: str
    circuit: str
    version: Version
    wiring: tuple[int, int, int]
    max_current_a: float = 32.0
    step_a: float = 0.1
    fallback_a: float = 0.0
    events_for_status: bool = False

    @property
    def lines(self) -> tuple[str, str, str]:
        """The lines of the supply at terminals L1, L2, L3."""
        first, second, third = (f"L{line + 1}" for line in self.wiring)
        return (first, second, third)


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """`priority`: higher goes first when not all can charge. `tariff` names a tariff's id."""

    name: str
    tariff: str
    priority: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Right:
    """Members of `group` may charge at the stations named."""

    group: str
    stations: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    name: str
    organization: str
    time_zone: str
    currency: str
    system: str
    circuits: tuple[Circuit, ...]
    bays: tuple[Bay, ...]
    groups: tuple[Group, ...]
    members: tuple[people.Member, ...]
    cards: tuple[people.Card, ...]
    rights: tuple[Right, ...]
    tariffs: tuple[dict[str, Any], ...]

    def bay(self, identity: str) -> Bay:
        """Raises ValueError for an unknown station."""
        for bay in self.bays:
            if bay.identity == identity:
                return bay
        raise ValueError(f"{identity}: Weavers' Yard has no such station")


SUPPLY: Final = "Mill supply"
COURT: Final = "Court board"
MILL: Final = "Mill board"
COURT_BAYS: Final = 16
MILL_BAYS: Final = 8
VAN_BAYS: Final = tuple(f"MILL-{n:02d}" for n in range(1, people.VANS + 1))
GUEST_BAYS: Final = tuple(f"COURT-{n:02d}" for n in range(13, COURT_BAYS + 1))
RESIDENT_BAYS: Final = (*(f"COURT-{n:02d}" for n in range(1, 13)), "MILL-07", "MILL-08")


def bay(prefix: str, number: int, circuit: str) -> Bay:
    """Every second station speaks 2.0.1, every fourth tells its states by events; the wiring turns from bay
    to bay."""
    identity = f"{prefix}-{number:02d}"
    return Bay(
        name=f"{prefix.capitalize()} {number}",
        identity=identity,
        password=f"weft-and-warp-{identity}",
        circuit=circuit,
        version=Version.V16 if number % 2 else Version.V201,
        wiring=ROTATIONS[(number - 1) % 3],
        fallback_a=6.0 if identity in VAN_BAYS else 0.0,
        events_for_status=number % 4 == 0,
    )


def tariff(name: str, text: str, *components: dict[str, Any]) -> dict[str, Any]:
    """A tariff as OCPI 2.2.1 words it."""
    return {
        "country_code": "NL",
        "party_id": "WVY",
        "id": name,
        "currency": "EUR",
        "tariff_alt_text": [{"language": "en", "text": text}],
        "elements": [{"price_components": list(components)}],
        "last_updated": "2026-01-01T00:00:00Z",
    }


def component(kind: str, price: float, step_size: int = 1) -> dict[str, Any]:
    return {"type": kind, "price": price, "vat": 21.0, "step_size": step_size}


WEAVERS_YARD: Final = Site(
    name="Weavers' Yard",
    organization="Weavers' Yard owners' association",
    time_zone="Europe/Amsterdam",
    currency="EUR",
    system="TN-400",
    circuits=(
        Circuit(name=SUPPLY, fed_from=None, limit_a=63.0, worst_base_a=22.0),
        Circuit(name=COURT, fed_from=SUPPLY, limit_a=50.0),
        Circuit(name=MILL, fed_from=SUPPLY, limit_a=40.0),
    ),
    bays=(
        *(bay("COURT", n, COURT) for n in range(1, COURT_BAYS + 1)),
        *(bay("MILL", n, MILL) for n in range(1, MILL_BAYS + 1)),
    ),
    groups=(
        Group(name=people.RESIDENTS, tariff="RESIDENT"),
        Group(name=people.BAKERY, tariff="BAKERY", priority=1),
        Group(name=people.GUESTS, tariff="GUEST"),
    ),
    members=people.MEMBERS,
    cards=people.CARDS,
    rights=(
        Right(group=people.RESIDENTS, stations=RESIDENT_BAYS),
        Right(group=people.BAKERY, stations=VAN_BAYS),
        Right(group=people.GUESTS, stations=GUEST_BAYS),
    ),
    tariffs=(
        tariff("RESIDENT", "Residents: 0.29 per kWh", component("ENERGY", 0.29)),
        tariff("BAKERY", "Bakery: 0.26 per kWh", component("ENERGY", 0.26)),
        tariff(
            "GUEST",
            "Guests: 0.50 per charge, 0.42 per kWh, 1.20 per hour parked full",
            component("FLAT", 0.50),
            component("ENERGY", 0.42),
            component("PARKING_TIME", 1.20, 300),
        ),
    ),
)
