"""How a site bills: who issues, in which series, what members pay, and what happens to late data."""

import re
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum

from csms.errors import InvalidInput
from csms.ledger.period import Month
from csms.ledger.statement import Issuer
from csms.sites.model import check_name

MOST_LINES = 6
_SERIES = re.compile(r"[A-Z][A-Z0-9]{0,9}")
_LANGUAGE = re.compile(r"[a-z]{2}")
_COUNTRY = re.compile(r"[A-Z]{2}")


class Late(StrEnum):
    """What comes of data that change a month after its issue: a line in the next statement, or a credit
    note with a new statement for that month."""

    NEXT_PERIOD = "next_period"
    CREDIT_NOTE = "credit_note"


class Losses(StrEnum):
    """Who bears what the main meter counts more than the chargers: all by their kWh, or the association."""

    BY_KWH = "by_kwh"
    ASSOCIATION = "association"


class Surplus(StrEnum):
    """Who gets what guests pay beyond their part of the costs: the association, or members by kWh."""

    ASSOCIATION = "association"
    MEMBERS = "members"


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """`first_month`: nothing earlier is billed. `members_pay_sessions`: members pay their sessions by
    tariff; without it they pay by shares of invoices only. `vat_percent`: the rate of what names none
    (guest surplus), and of tariffs that name no VAT when it is set. `loss_bound_percent`: losses above it
    stop a run. Numbers are SERIES-00001, and credit notes have a series of their own.
    `correct_months`: how far back late data are looked for.
    """

    issuer: Issuer
    first_month: str
    series: str = "S"
    credit_series: str = "C"
    language: str = "en"
    due_days: int = 14
    members_pay_sessions: bool = True
    vat_percent: Decimal | None = None
    late: Late = Late.NEXT_PERIOD
    losses: Losses = Losses.BY_KWH
    loss_bound_percent: Decimal = Decimal(8)
    surplus: Surplus = Surplus.ASSOCIATION
    correct_months: int = 12

    @property
    def registered(self) -> bool:
        """Whether the association is registered for VAT."""
        return self.issuer.tax_id is not None


def check_terms(terms: Terms) -> Terms:
    """`terms` in its final form; InvalidInput names the field that is wrong."""
    Month.parse(terms.first_month, "first_month")
    for field in ("series", "credit_series"):
        if not _SERIES.fullmatch(getattr(terms, field)):
            raise InvalidInput(field, "must be 1 to 10 of A-Z and 0-9, beginning with a letter")
    if terms.series == terms.credit_series:
        raise InvalidInput("credit_series", "must differ from series: each has its own numbers")
    if not _LANGUAGE.fullmatch(terms.language):
        raise InvalidInput("language", "must be an ISO 639 code such as en, de, nb, sv, nl, fr")
    if not 0 <= terms.due_days <= 365:
        raise InvalidInput("due_days", f"must be 0 to 365, not {terms.due_days}")
    if not 0 <= terms.correct_months <= 36:
        raise InvalidInput("correct_months", f"must be 0 to 36, not {terms.correct_months}")
    if not 0 <= terms.loss_bound_percent <= 100:
        raise InvalidInput("loss_bound_percent", f"must be 0 to 100, not {terms.loss_bound_percent}")
    if terms.vat_percent is not None:
        if not terms.registered:
            raise InvalidInput("vat_percent", "needs issuer.tax_id: who is not registered charges no VAT")
        check_percent("vat_percent", terms.vat_percent)
    return replace(terms, issuer=_check_issuer(terms.issuer))


def check_percent(field: str, value: Decimal) -> Decimal:
    """`value` if it can be a VAT rate in percent, with at most 2 decimals."""
    if not value.is_finite() or not 0 <= value <= 100 or value != round(value, 2):
        raise InvalidInput(field, f"must be 0 to 100 with at most 2 decimals, not {value}")
    return value


def check_lines(field: str, lines: tuple[str, ...]) -> tuple[str, ...]:
    """Lines of an address without empty ones."""
    if len(lines) > MOST_LINES:
        raise InvalidInput(field, f"has {len(lines)} lines; at most {MOST_LINES} are kept")
    return tuple(check_name(f"{field}.{i}", line) for i, line in enumerate(lines) if line.strip())


def _check_issuer(issuer: Issuer) -> Issuer:
    tax_id = issuer.tax_id
    if tax_id is not None:
        tax_id = check_name("issuer.tax_id", tax_id, 40)
    if issuer.country and not _COUNTRY.fullmatch(issuer.country):
        raise InvalidInput("issuer.country", "must be an ISO 3166 code of two letters, e.g. NO")
    return replace(
        issuer,
        name=check_name("issuer.name", issuer.name),
        address=check_lines("issuer.address", issuer.address),
        tax_id=tax_id,
    )
