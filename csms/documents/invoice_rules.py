"""EN 16931's arithmetic on a statement, exactly: what must hold before it is written as an invoice.

Rules by their names in EN 16931-1:2017, 6.4. Amounts are compared as whole minor units and prices as
decimals, so "equal" means equal; the published schematron compares what was written, after the fact.
"""

from collections import defaultdict
from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

from csms.ledger.statement import Line, Statement, StatementKind, VatCategory
from csms.money import CURRENCIES, half_up

Fault = tuple[str, str]
"""A rule's name, and what is wrong."""

MOST_DECIMALS = 2


def faults(statement: Statement) -> list[Fault]:
    """Every rule that does not hold; none for a sound invoice."""
    return [*_document(statement), *_lines(statement), *_sums(statement), *_vat(statement)]


def _document(statement: Statement) -> Iterator[Fault]:
    issuer = statement.issuer
    if not statement.number:
        yield "BR-02", "an invoice has a number: issue the statement first"
    if not issuer.name:
        yield "BR-06", "the issuer has no name"
    if not issuer.country:
        yield "BR-09", "the issuer has no country code; set it at the site's money settings"
    if not statement.recipient.name:
        yield "BR-07", "the recipient has no name"
    if not statement.lines:
        yield "BR-16", "an invoice has at least one line"
    if CURRENCIES[statement.currency] > MOST_DECIMALS:
        yield "BR-DEC-12", f"{statement.currency} has more than two decimals, EN 16931 allows two"
    if statement.kind is StatementKind.CREDIT_NOTE and statement.corrects is None:
        yield "BR-55", "a credit note names the invoice that it corrects"
    registered = any(line.vat_category is not VatCategory.NOT_SUBJECT for line in statement.lines)
    if registered and not issuer.tax_id:
        yield "BR-S-02", "VAT is charged, but the issuer has no tax number"


def _lines(statement: Statement) -> Iterator[Fault]:
    unit = 10 ** CURRENCIES[statement.currency]
    categories = {line.vat_category for line in statement.lines}
    if VatCategory.NOT_SUBJECT in categories and len(categories) > 1:
        yield "BR-O-11", "lines that are not subject to VAT stand beside lines that are"
    for line in statement.lines:
        where = f"line {line.number}"
        if line.unit_price < 0:
            yield "BR-27", f"{where} has the negative price {line.unit_price}; make the quantity negative"
        exact = half_up(Fraction(line.quantity) * Fraction(line.unit_price) * unit)
        if exact != line.net_minor:
            yield "BT-131", f"{where}: {line.quantity} x {line.unit_price} is {exact}, not {line.net_minor}"
        if (line.vat_percent is None) != (line.vat_category is VatCategory.NOT_SUBJECT):
            yield "BR-O-05", f"{where} has a VAT rate if and only if it is subject to VAT"
        if line.vat_category is VatCategory.STANDARD and not (line.vat_percent or 0) > 0:
            yield "BR-S-05", f"{where} has category S and no VAT rate above zero"
        if line.vat_category in (VatCategory.ZERO, VatCategory.EXEMPT) and line.vat_percent:
            yield "BR-Z-05", f"{where} has category {line.vat_category.value} and the rate {line.vat_percent}"


def _sums(statement: Statement) -> Iterator[Fault]:
    net = sum(line.net_minor for line in statement.lines)
    if net != statement.net_minor:
        yield "BR-CO-10", f"the lines add up to {net}, not {statement.net_minor}"
    vat = sum(total.vat_minor for total in statement.vat)
    if vat != statement.vat_minor:
        yield "BR-CO-14", f"VAT adds up to {vat}, not {statement.vat_minor}"
    if statement.net_minor + statement.vat_minor != statement.gross_minor:
        yield (
            "BR-CO-15",
            f"{statement.net_minor} and {statement.vat_minor} VAT are not {statement.gross_minor}",
        )


def _vat(statement: Statement) -> Iterator[Fault]:
    bases: dict[tuple[VatCategory, Decimal], int] = defaultdict(int)
    for line in statement.lines:
        bases[group(line)] += line.net_minor
    told = {(total.category, total.percent): total for total in statement.vat}
    if len(told) != len(statement.vat):
        yield "BR-CO-18", "a category and rate stand twice among the sums of VAT"
    for key, base in bases.items():
        name = f"{key[0].value} {key[1]} %"
        total = told.pop(key, None)
        if total is None:
            # What is not subject to VAT may be left out of the sums; it is written all the same.
            if key[0] is not VatCategory.NOT_SUBJECT:
                yield "BR-CO-18", f"no sum of VAT for {name}"
            continue
        if total.base_minor != base:
            yield "BR-S-08", f"{name}: the lines add up to {base}, not {total.base_minor}"
        vat = half_up(Fraction(total.base_minor) * Fraction(total.percent) / 100)
        if total.vat_minor != vat:
            yield "BR-CO-17", f"{name} of {total.base_minor} is {vat}, not {total.vat_minor}"
        if total.category is not VatCategory.STANDARD and total.vat_minor:
            yield "BR-E-09", f"{name} has VAT of {total.vat_minor}, and may have none"
    for key in told:
        yield "BR-CO-18", f"a sum of VAT for {key[0].value} {key[1]} %, and no line has it"


def group(line: Line) -> tuple[VatCategory, Decimal]:
    """The category and rate that a line is summed under."""
    return line.vat_category, line.vat_percent if line.vat_percent is not None else Decimal(0)
