"""Tables of the page Month: members, reconciliations, suppliers' invoices. Pure."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from typing import Any

from api.web.order import natural
from csms.ledger.issuing.issued import Document as Issued
from csms.ledger.period import Month
from csms.ledger.pool import Key, Pool, of_month
from csms.ledger.proof import Check, Figure, Name, Verdict
from csms.ledger.statement import Statement
from csms.money import Currency, Money

KEYS: Mapping[Key, str] = {
    Key.KWH: "by kWh",
    Key.EQUAL: "equally for each place",
    Key.DAYS: "equally, by days",
    Key.PEAK: "by share of the peak hour",
    Key.ASSOCIATION: "not shared: the association",
}

CHECKS: Mapping[Name, str] = {
    Name.REGISTERS: "Registers of each charger",
    Name.TREE: "Main meter, chargers, losses",
    Name.TIME: "No gap, no overlap",
    Name.PRICE: "Prices worked out again",
    Name.MONEY: "Shares make each invoice",
    Name.VAT: "VAT of each document",
    Name.PAYMENTS: "Accounts of members",
    Name.COMPLETENESS: "Everybody has a statement",
    Name.NUMBERS: "Numbers without a gap",
    Name.SAME_BYTES: "The same again from the same inputs",
}
TONES = {Verdict.PASS: "good", Verdict.FAIL: "bad", Verdict.NOT_MEASURED: "wait"}
VERDICTS = {Verdict.PASS: "holds", Verdict.FAIL: "does not hold", Verdict.NOT_MEASURED: "not measured"}


@dataclass(frozen=True, slots=True)
class MemberRow:
    """A member's document: as it would be, or as it was issued. `energy` and `open` are "" once issued."""

    member_id: str
    name: str
    number: str
    energy: str
    net: str
    vat: str
    gross: str
    open: str
    statement_id: str
    credit: bool
    estimated: bool


@dataclass(frozen=True, slots=True)
class Sums:
    """Of all rows, with their units."""

    count: int
    energy: str
    net: str
    vat: str
    gross: str
    open: str


@dataclass(frozen=True, slots=True)
class CheckRow:
    """A reconciliation; `figures` are (label, value)."""

    name: str
    tone: str
    verdict: str
    words: str
    figures: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class PoolRow:
    """A supplier's invoice. `of_month`: what of its net amount is the month's."""

    id: str
    name: str
    supplier: str
    invoice: str
    period: str
    amount: str
    vat: str
    of_month: str
    key: str


def preview_rows(statements: Iterable[Statement]) -> tuple[MemberRow, ...]:
    """A row for each statement that would be issued, by the member's name."""
    return _sorted(
        MemberRow(
            one.recipient.member_id,
            one.recipient.name,
            one.number,
            f"{Decimal(one.energy_wh).scaleb(-3):.3f}",
            _text(one.net_minor, one.currency),
            _text(one.vat_minor, one.currency),
            _text(one.gross_minor, one.currency),
            _text(one.balance.closing_minor, one.currency),
            one.id,
            one.corrects is not None,
            bool(one.estimates),
        )
        for one in statements
    )


def preview_sums(statements: Sequence[Statement], currency: str) -> Sums:
    """The totals of what would be issued. What is open counts a member's last document only."""
    last = {one.recipient.member_id: one.balance.closing_minor for one in statements}
    return Sums(
        len(statements),
        kwh(sum(one.energy_wh for one in statements)),
        _money(sum(one.net_minor for one in statements), currency),
        _money(sum(one.vat_minor for one in statements), currency),
        _money(sum(one.gross_minor for one in statements), currency),
        _money(sum(last.values()), currency),
    )


def issued_rows(found: Iterable[Issued], names: Mapping[str, str]) -> tuple[MemberRow, ...]:
    """A row for each issued document, by the member's name. What is in its body is not read for this."""
    return _sorted(
        MemberRow(
            one.member_id,
            names.get(one.member_id, one.member_id),
            one.number,
            "",
            _text(one.net_minor, one.currency),
            _text(one.vat_minor, one.currency),
            _text(one.gross_minor, one.currency),
            "",
            one.id,
            one.corrects_id is not None,
            False,
        )
        for one in found
    )


def issued_sums(found: Sequence[Issued], currency: str) -> Sums:
    """The totals of all issued documents."""
    return Sums(
        len(found),
        "",
        _money(sum(one.net_minor for one in found), currency),
        _money(sum(one.vat_minor for one in found), currency),
        _money(sum(one.gross_minor for one in found), currency),
        "",
    )


def numbers(statements: Iterable[Statement]) -> str:
    """The numbers that would be given: `S-00001 to S-00048, C-00001`."""
    series: dict[str, list[tuple[int, str]]] = {}
    for one in statements:
        series.setdefault(one.series, []).append((one.sequence, one.number))
    told = []
    for found in series.values():
        (_, first), (_, last) = min(found), max(found)
        told.append(first if first == last else f"{first} to {last}")
    return ", ".join(told)


def check_rows(checks: Iterable[Check]) -> tuple[CheckRow, ...]:
    """The ten reconciliations in words, with their figures."""
    return tuple(
        CheckRow(
            CHECKS[check.name],
            TONES[check.verdict],
            VERDICTS[check.verdict],
            sentence(check.words),
            tuple((one.label, f"{one.value} {one.unit}".strip()) for one in check.figures),
        )
        for check in checks
    )


def pool_rows(pools: Iterable[Pool], month: Month) -> tuple[PoolRow, ...]:
    """The invoices that have a day in the month."""
    return tuple(
        PoolRow(
            pool.id,
            pool.name,
            pool.supplier,
            pool.invoice,
            period_text(pool),
            _text(pool.amount_minor, pool.currency),
            _text(pool.vat_minor, pool.currency),
            _text(of_month(pool, pool.amount_minor, month), pool.currency),
            KEYS[pool.key],
        )
        for pool in sorted(pools, key=lambda pool: (natural(pool.name), pool.id))
        if pool.period_start < month.after.first and pool.period_end > month.first
    )


def period_text(pool: Pool) -> str:
    """`Jan 2026` for a whole month, `Jan to Mar 2026` for whole months, else the days."""
    first, last = pool.period_start, pool.period_end - timedelta(days=1)
    if first.day != 1 or pool.period_end.day != 1:
        return f"{first:%d %b} to {last:%d %b %Y}"
    if (first.year, first.month) == (last.year, last.month):
        return f"{first:%b %Y}"
    return f"{first:%b} to {last:%b %Y}" if first.year == last.year else f"{first:%b %Y} to {last:%b %Y}"


def stored_checks(proof: Iterable[Mapping[str, Any]]) -> tuple[Check, ...]:
    """The reconciliations as a run keeps them."""
    return tuple(
        Check(
            name=Name(one["name"]),
            verdict=Verdict(one["verdict"]),
            words=one["words"],
            figures=tuple(Figure(each["label"], each["value"], each["unit"]) for each in one["figures"]),
        )
        for one in proof
    )


def sentence(words: str) -> str:
    """With a capital and a full stop."""
    return f"{words[:1].upper()}{words[1:].rstrip('.')}."


def kwh(energy_wh: int) -> str:
    """With its unit."""
    return f"{Decimal(energy_wh).scaleb(-3):.3f} kWh"


def _sorted(rows: Iterable[MemberRow]) -> tuple[MemberRow, ...]:
    return tuple(sorted(rows, key=lambda row: (natural(row.name), row.number)))


def _text(minor: int, currency: str) -> str:
    return Money(minor, Currency(currency)).text()


def _money(minor: int, currency: str) -> str:
    return str(Money(minor, Currency(currency)))
