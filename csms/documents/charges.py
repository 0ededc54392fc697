"""The parts of a document that are about money: its lines with VAT, and the member's account."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from csms.documents.sentence import Voice
from csms.ledger.statement import Line, Statement, StatementKind, Unit, VatCategory, VatTotal

Part = Mapping[str, Any]
"""A part of the paper as `statement.typ` reads it."""

MOST_DIGITS = 6
"""Decimals of a printed price."""


def table(title: str, columns: list[dict[str, Any]], rows: list[dict[str, Any]], **more: Any) -> Part:
    """A part that is a table. `more`: intro, notes (lists of sentences), dense."""
    return {"kind": "table", "title": title, "columns": columns, "rows": rows, **more}


def column(head: str, *, right: bool = False, fill: bool = False) -> dict[str, Any]:
    """A column of a table; a number stands `right`, one column takes what is left (`fill`)."""
    return {"head": head, "right": right, "width": "fill" if fill else "auto"}


def row(*cells: str, under: str = "", strong: bool = False) -> dict[str, Any]:
    """A row; `under` is smaller text below its first cell."""
    return {"cells": list(cells), "under": under, "strong": strong}


def has_vat(statement: Statement) -> bool:
    """Whether the issuer charges VAT at all."""
    return any(line.vat_category is not VatCategory.NOT_SUBJECT for line in statement.lines)


def lines(statement: Statement, voice: Voice) -> Part:
    """What is charged, line by line, and its sums."""
    with_vat = has_vat(statement)
    say = voice.say
    columns = [
        column(say("lines.item"), fill=True),
        column(say("lines.quantity"), right=True),
        column(say("lines.price"), right=True),
        *([column(say("lines.vat"), right=True)] if with_vat else []),
        column(say("lines.net" if with_vat else "lines.amount"), right=True),
    ]
    rows = [_line(line, voice, with_vat) for line in statement.lines]
    rows += _sums(statement, voice, with_vat)
    notes = []
    if any(_digits(line.unit_price) > MOST_DIGITS for line in statement.lines):
        notes.append(say("lines.long_prices"))
    if not with_vat and statement.issuer.tax_id is None:
        notes.append(say("lines.no_vat"))
    return table(say("lines.title"), columns, rows, notes=notes)


def _line(line: Line, voice: Voice, with_vat: bool) -> dict[str, Any]:
    figures = voice.figures
    unit = "" if line.unit is Unit.ONE else voice.say(f"unit.{line.unit.value}")
    quantity = figures.shortest(line.quantity, 3 if line.unit is Unit.KWH else 0, 3)
    rate = "" if line.vat_percent is None else figures.percent(line.vat_percent)
    return row(
        voice.line(line),
        f"{quantity}\N{NO-BREAK SPACE}{unit}" if unit else quantity,
        figures.rate(line.unit_price, voice.currency, unit if line.unit is Unit.KWH else ""),
        *([rate] if with_vat else []),
        voice.money(line.net_minor),
        under=voice.under(line),
    )


def _sums(statement: Statement, voice: Voice, with_vat: bool) -> list[dict[str, Any]]:
    blank = [""] * (3 if with_vat else 2)
    if not with_vat:
        return [row(voice.say("lines.total"), *blank, voice.money(statement.gross_minor), strong=True)]
    return [
        row(voice.say("lines.sum_net"), *blank, voice.money(statement.net_minor), strong=True),
        *(row(_vat_text(total, voice), *blank, voice.money(total.vat_minor)) for total in statement.vat),
        row(voice.say("lines.total_vat"), *blank, voice.money(statement.gross_minor), strong=True),
    ]


def _vat_text(total: VatTotal, voice: Voice) -> str:
    base = voice.money(total.base_minor)
    if total.category is VatCategory.STANDARD:
        return voice.say("lines.vat_of", percent=voice.figures.percent(total.percent), base=base)
    return voice.say("lines.exempt_of", base=base)


def _digits(price: Decimal) -> int:
    return -int(price.normalize().as_tuple().exponent)


def account(statement: Statement, voice: Voice) -> Part | None:
    """What was open before, what was paid, what is open now; None when only this document is."""
    balance = statement.balance
    if not (balance.opening_minor or balance.paid_minor or statement.payments):
        return None
    say, figures = voice.say, voice.figures
    rows = [row(say("account.before"), voice.money(balance.opening_minor))]
    for payment in statement.payments:
        what = "account.paid" if payment.amount_minor >= 0 else "account.paid_back"
        text = say(what, day=figures.day(payment.at))
        rows.append(row(text, voice.money(-payment.amount_minor), under=payment.reference))
    if balance.paid_minor != sum(payment.amount_minor for payment in statement.payments):
        rows.append(row(say("account.paid_sum"), voice.money(-balance.paid_minor)))
    this = "title.credit_note" if statement.kind is StatementKind.CREDIT_NOTE else "account.this"
    rows.append(row(say(this), voice.money(balance.charged_minor)))
    closing = "account.in_favour" if balance.closing_minor < 0 else "account.open"
    rows.append(row(say(closing), voice.money(abs(balance.closing_minor)), strong=True))
    return table(say("account.title"), [column("", fill=True), column("", right=True)], rows)
