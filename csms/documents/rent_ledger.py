"""Statements as the table that a site's rent ledger takes."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from csms.documents.columns import VAT, Content, DocumentSettings, RowsPer
from csms.documents.paper import period_text, title
from csms.documents.sentence import Voice, voice_of
from csms.ledger.statement import Line, Statement, VatTotal
from csms.money import Currency, Money

Cell = str | Decimal | date | None
"""A Decimal has the decimals that are shown: 5.00, not 5."""


@dataclass(frozen=True, slots=True)
class Table:
    """Heads and rows of the same length."""

    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def table_of(statements: Iterable[Statement], settings: DocumentSettings, voice: Voice) -> Table:
    """The statements by the site's columns. `voice`: the site's language, for heads without a name.

    Texts of lines are in the language of their statement, as the member has read them.
    """
    heads = tuple(one.name or voice.say(f"column.{one.content.value}") for one in settings.columns)
    contents = [one.content for one in settings.columns]
    rows = tuple(
        tuple(cells.get(content) for content in contents)
        for statement in statements
        for cells in _rows(statement, settings)
    )
    return Table(heads, rows)


def _rows(statement: Statement, settings: DocumentSettings) -> Iterator[Mapping[Content, Cell]]:
    voice = voice_of(statement)
    common = _document(statement, settings, voice)
    if settings.rows_per is RowsPer.DOCUMENT:
        yield {**common, **_amounts(statement, statement.net_minor, statement.vat_minor)}
        return
    for line in statement.lines:
        yield {**common, **_line(line, statement, settings, voice)}
    for total in statement.vat:
        if total.vat_minor:
            yield {**common, **_vat(total, statement, settings, voice)}


def _document(statement: Statement, settings: DocumentSettings, voice: Voice) -> dict[Content, Cell]:
    balance, recipient = statement.balance, statement.recipient
    whole = settings.rows_per is RowsPer.DOCUMENT
    text = f"{title(statement, voice)} {period_text(statement, voice)}"
    return {
        Content.NUMBER: statement.number,
        Content.KIND: title(statement, voice),
        Content.CORRECTS: statement.corrects.number if statement.corrects else "",
        Content.ISSUED_ON: statement.issued_on,
        Content.DUE_ON: statement.due_on,
        Content.MEMBER_ID: recipient.member_id,
        Content.MEMBER: recipient.name,
        Content.MEMBER_ACCOUNT: settings.member_accounts.get(recipient.member_id, ""),
        Content.PERIOD: f"{statement.period_start:%Y-%m}",
        Content.PERIOD_START: statement.period_start,
        Content.PERIOD_END: statement.period_end - timedelta(days=1),
        Content.TEXT: text,
        Content.ITEM: text,
        Content.ACCOUNT: settings.account,
        Content.CURRENCY: statement.currency,
        Content.ENERGY_KWH: Decimal(statement.energy_wh).scaleb(-3) if whole else None,
        Content.OPENING: _money(statement, balance.opening_minor) if whole else None,
        Content.PAID: _money(statement, balance.paid_minor) if whole else None,
        Content.CLOSING: _money(statement, balance.closing_minor) if whole else None,
    }


def _line(line: Line, statement: Statement, settings: DocumentSettings, voice: Voice) -> dict[Content, Cell]:
    return {
        Content.ITEM: voice.line(line),
        Content.ACCOUNT: settings.accounts.get(line.kind.value, settings.account),
        Content.QUANTITY: line.quantity,
        Content.UNIT: line.unit.value,
        Content.UNIT_PRICE: line.unit_price,
        Content.VAT_PERCENT: line.vat_percent,
        **_amounts(statement, line.net_minor, 0),
    }


def _vat(
    total: VatTotal, statement: Statement, settings: DocumentSettings, voice: Voice
) -> dict[Content, Cell]:
    percent = voice.figures.percent(total.percent)
    return {
        Content.ITEM: voice.say("lines.vat_of", percent=percent, base=voice.money(total.base_minor)),
        Content.ACCOUNT: settings.accounts.get(VAT, settings.account),
        Content.VAT_PERCENT: total.percent,
        **_amounts(statement, 0, total.vat_minor),
    }


def _amounts(statement: Statement, net_minor: int, vat_minor: int) -> dict[Content, Cell]:
    gross = _money(statement, net_minor + vat_minor)
    return {
        Content.NET: _money(statement, net_minor),
        Content.VAT: _money(statement, vat_minor),
        Content.GROSS: gross,
        Content.AMOUNT: gross,
    }


def _money(statement: Statement, minor: int) -> Decimal:
    return Money(minor, Currency(statement.currency)).to_decimal()
