"""A statement as values: everything that a document shows, frozen when it is issued.

Amounts are whole minor units of `Statement.currency`. Texts for people are keys with arguments, which a
catalogue turns into a sentence; names, labels and notes that people typed are plain text. Times are aware
UTC; the documents show them in `Statement.time_zone`. Lines add up by EN 16931: BR-CO-10 (sum of line
nets), BR-CO-13, BR-CO-14 (sum of VAT), BR-CO-15 (net + VAT = gross), BR-CO-17 (VAT = base x rate, once per
category and rate). A negative line has a negative quantity, never a negative price (BR-27).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum


class StatementKind(StrEnum):
    """A credit note mirrors an issued statement: same lines, quantities negated, and names it."""

    STATEMENT = "statement"
    CREDIT_NOTE = "credit_note"


class LineKind(StrEnum):
    """What a line charges for; also the key of its text. Arguments in brackets.

    ENERGY [tariff]: energy by the price of the intervals or the tariff. NEGATIVE_ENERGY [tariff]: energy
    drawn while its price was below zero. SESSIONS [tariff]: sessions by an OCPI tariff. SESSION_FEE
    [tariff], MONTHLY_FEE [tariff], CAPACITY_FEE [tariff], DISCOUNT [tariff], CAP [tariff]: as named.
    POOL_SHARE [pool, key, supplier]: a share of a supplier's invoice. GUEST_SURPLUS []: a share of what
    guests paid beyond their part of the costs, as a credit. CORRECTION [period, of, name, reason]: what an
    earlier period should have been, less what it was; `of` is the LineKind corrected, `name` its tariff or
    pool, `reason` is `late_data`.
    """

    ENERGY = "energy"
    NEGATIVE_ENERGY = "negative_energy"
    SESSIONS = "sessions"
    SESSION_FEE = "session_fee"
    MONTHLY_FEE = "monthly_fee"
    CAPACITY_FEE = "capacity_fee"
    DISCOUNT = "discount"
    CAP = "cap"
    POOL_SHARE = "pool_share"
    GUEST_SURPLUS = "guest_surplus"
    CORRECTION = "correction"


class Unit(StrEnum):
    """UN/ECE Recommendation 20 codes: kilowatt-hour, one (a piece), month."""

    KWH = "KWH"
    ONE = "C62"
    MONTH = "MON"


class VatCategory(StrEnum):
    """EN 16931 (UNCL 5305): standard, zero rated, exempt, not subject to VAT (issuer not registered)."""

    STANDARD = "S"
    ZERO = "Z"
    EXEMPT = "E"
    NOT_SUBJECT = "O"


class Flag(StrEnum):
    """What a reader must know of a session's energy, and of its signed meter data."""

    ESTIMATED = "estimated"
    INTERPOLATED = "interpolated"
    LATE = "late"
    SPLIT = "split"
    PRICE_MISSING = "price_missing"
    REGISTER_RESET = "register_reset"
    SIGNED_VALID = "signed_valid"
    SIGNED_INVALID = "signed_invalid"
    SIGNED_UNCHECKED = "signed_unchecked"


class Sum(StrEnum):
    """The figures of "how it adds up", of the whole site; each in the unit that its value tells.

    Energy adds up: MAIN_METER = CHARGERS + LOSSES, CHARGERS = MEMBERS + GUESTS + UNKNOWN.
    Money adds up: INVOICES = MEMBER_SHARES + GUEST_SHARE + ASSOCIATION_SHARE.
    """

    MAIN_METER = "main_meter"
    CHARGERS = "chargers"
    LOSSES = "losses"
    MEMBERS = "members"
    GUESTS = "guests"
    UNKNOWN = "unknown"
    INVOICES = "invoices"
    MEMBER_SHARES = "member_shares"
    GUEST_SHARE = "guest_share"
    ASSOCIATION_SHARE = "association_share"
    GUEST_INCOME = "guest_income"
    GUEST_SURPLUS = "guest_surplus"


@dataclass(frozen=True, slots=True, kw_only=True)
class Issuer:
    """The association. `tax_id` None: not registered for VAT. `country` is ISO 3166-1 alpha-2."""

    name: str
    address: tuple[str, ...] = ()
    tax_id: str | None = None
    country: str = ""
    email: str = ""
    payment_to: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipient:
    """The member as it was when the statement was issued."""

    member_id: str
    name: str
    address: tuple[str, ...] = ()
    email: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line. `net_minor` = `quantity` x `unit_price` rounded half up, where the price is told to 8 places.

    `vat_percent` is None when the category is NOT_SUBJECT. `session_ids`: what it charges for, when it
    is about sessions; `period` (YYYY-MM) is the one that a CORRECTION is about, else the statement's own.
    """

    number: int
    kind: LineKind
    arguments: Mapping[str, str] = field(default_factory=dict)
    quantity: Decimal
    unit: Unit
    unit_price: Decimal
    net_minor: int
    vat_category: VatCategory
    vat_percent: Decimal | None
    session_ids: tuple[int, ...] = ()
    period: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class VatTotal:
    """VAT of one (category, rate): `vat_minor` = `base_minor` x `percent`, rounded half up once."""

    category: VatCategory
    percent: Decimal
    base_minor: int
    vat_minor: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionLine:
    """A session, or the part of it that belongs to this member and period.

    `start` and `stop` are those of the part, registers in Wh as the meter showed them then (None: not
    known). `cost_minor` without VAT; the costs of all parts add up to their lines.
    """

    session_id: int
    start: datetime
    stop: datetime
    station_id: str
    station: str
    token: str
    register_start_wh: int | None
    register_stop_wh: int | None
    energy_wh: int
    cost_minor: int
    flags: tuple[Flag, ...] = ()


@dataclass(frozen=True, slots=True)
class DayEnergy:
    """Energy of a local day; every day of the period is there."""

    day: date
    energy_wh: int


@dataclass(frozen=True, slots=True)
class SumLine:
    """A figure of how the site adds up: energy in kWh (`unit` "kWh"), or an amount in major units
    (`unit` is the currency's code)."""

    key: Sum
    value: Decimal
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """What was estimated, and why. `reason`: `start_register`, `stop_register`, `boundary` (a register at
    local midnight was interpolated), `clock_aligned`, `next_session`, `station_total`, `average`,
    `price_missing`."""

    reason: str
    energy_wh: int
    session_id: int | None = None
    at: datetime | None = None
    arguments: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Explained:
    """A sentence on the prices: `key` with arguments.

    Keys: `price_spot` [factor, markup, fees, unit], `price_average` [price, unit], `price_tariff` [tariff],
    `pool_key` [pool, key, amount, weight, whole], `losses` [percent, rule], `not_registered` [],
    `correction` [period, reason], `guest_surplus` [amount].
    """

    key: str
    arguments: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class PaymentLine:
    """Money that came in (positive) or was paid back (negative) since the last statement."""

    at: date
    amount_minor: int
    reference: str = ""


@dataclass(frozen=True, slots=True)
class DocumentLink:
    """Another issued document: its number and the day of its issue."""

    number: str
    issued_on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """`opening` + `charged` - `paid` = `closing`; positive is what the member owes."""

    opening_minor: int
    charged_minor: int
    paid_minor: int
    closing_minor: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """One document. `period_start` to `period_end` (exclusive) are local days of the site.

    `number` and `sequence` are empty and 0 in a preview. `corrects`: what a credit note mirrors.
    `replaces`: the statement that this one is issued anew for. `due_on` None: nothing is to be paid.
    """

    id: str
    kind: StatementKind
    series: str
    sequence: int
    number: str
    issued_on: date
    due_on: date | None
    site_id: str
    site_name: str
    time_zone: str
    language: str
    period_start: date
    period_end: date
    issuer: Issuer
    recipient: Recipient
    currency: str
    lines: tuple[Line, ...]
    vat: tuple[VatTotal, ...]
    net_minor: int
    vat_minor: int
    gross_minor: int
    balance: Balance
    payments: tuple[PaymentLine, ...] = ()
    sessions: tuple[SessionLine, ...] = ()
    days: tuple[DayEnergy, ...] = ()
    energy_wh: int = 0
    adds_up: tuple[SumLine, ...] = ()
    estimates: tuple[Estimate, ...] = ()
    explained: tuple[Explained, ...] = ()
    corrects: DocumentLink | None = None
    replaces: DocumentLink | None = None
    notes: tuple[str, ...] = ()
    rule_version: str = ""
    inputs_hash: str = ""
