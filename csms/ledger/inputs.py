"""All that the statements of a month are computed from. The same inputs give the same statements.

Nothing else goes in: no database, no clock. Stored with the run as canonical text, so that it can be
computed again. Times are aware UTC, amounts minor units of `currency`, energy Wh.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from csms.ledger.pool import Key
from csms.ledger.statement import DayEnergy, DocumentLink, Flag, LineKind, PaymentLine
from csms.ledger.terms import Terms

RULE_VERSION = "1"
"""Counts up with every change of what the same inputs come to."""

GUESTS = "~guests"
ASSOCIATION = "~association"
"""Accounts beside those of members, whose ids are the members' own. `~` sorts behind all ids."""


@dataclass(frozen=True, slots=True)
class Cost:
    """What is charged at one VAT rate; `percent` None where the tariff names none."""

    percent: Decimal | None
    net_minor: int
    vat_minor: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """The part of a session that is one account's in the month. `account` "" is nobody's: unknown."""

    account: str
    session_id: int
    start: datetime
    stop: datetime
    station_id: str
    station: str
    token: str
    register_start_wh: int | None
    register_stop_wh: int | None
    energy_wh: int
    tariff_id: str = ""
    tariff: str = ""
    costs: tuple[Cost, ...] = ()
    days: tuple[DayEnergy, ...] = ()
    flags: tuple[Flag, ...] = ()
    estimated_wh: int = 0
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberFacts:
    """`spaces`: places that were the member's at some time of the month, `space_days` for how many days in
    all. `payments`: since the last document; `opening_minor`: what was owed by it."""

    member_id: str
    name: str
    address: tuple[str, ...] = ()
    email: str = ""
    language: str = ""
    spaces: int = 0
    space_days: int = 0
    opening_minor: int = 0
    payments: tuple[PaymentLine, ...] = ()
    replaces: DocumentLink | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PoolFacts:
    """An invoice's part of the month."""

    id: str
    name: str
    supplier: str
    key: Key
    amount_minor: int
    vat_minor: int
    vat_percent: Decimal | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Fee:
    """A monthly or capacity fee, or a monthly cap, by a tariff; `quantity` is months, kW, or 1."""

    account: str
    kind: LineKind
    tariff_id: str
    name: str
    quantity: Decimal
    net_minor: int
    percent: Decimal | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """What an earlier month should have been, less what was booked for it."""

    account: str
    period: str
    of: LineKind
    reference: str
    name: str
    percent: Decimal | None
    net_minor: int
    reason: str = "late_data"


@dataclass(frozen=True, slots=True, kw_only=True)
class RunInputs:
    """`supply_wh`: what the main meter counted, None: there is none. `between_wh`: what chargers counted
    outside of all sessions. `numbered_from`: the number of the first statement, 0 for a preview.
    `only`: the members whose statements are made, empty for all: a month is issued anew for some."""

    site_id: str
    site_name: str
    time_zone: str
    currency: str
    period: str
    issued_at: datetime
    terms: Terms
    members: tuple[MemberFacts, ...] = ()
    parts: tuple[Part, ...] = ()
    pools: tuple[PoolFacts, ...] = ()
    fees: tuple[Fee, ...] = ()
    corrections: tuple[Correction, ...] = ()
    supply_wh: int | None = None
    supply_interpolated: bool = False
    between_wh: int = 0
    peak_wh: Mapping[str, int] = field(default_factory=dict)
    peak_at: datetime | None = None
    numbered_from: int = 0
    only: tuple[str, ...] = ()
    issued_on: date | None = None
    rule_version: str = RULE_VERSION
