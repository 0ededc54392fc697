"""A statement as an EN 16931 invoice: UN/CEFACT Cross Industry Invoice (D16B), profile EN 16931.

Only writes down what the statement says; `invoice_rules` has proved its sums. A credit note is type 381,
whose amounts mean money that goes back: our mirrored lines are turned round once more, so that what
was charged as 12.50 is credited as 12.50 and not as -12.50. A negative price stays a negative quantity.
"""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from csms.documents.extra import library
from csms.documents.iban import is_iban
from csms.documents.invoice_rules import faults, group
from csms.documents.sentence import Voice
from csms.errors import ManyInvalid
from csms.ledger.statement import Line, Statement, StatementKind, VatCategory, VatTotal
from csms.money import Currency, Money

RSM = "urn:un:unece:uncefact:data:standard:CrossIndustryInvoice:100"
RAM = "urn:un:unece:uncefact:data:standard:ReusableAggregateBusinessInformationEntity:100"
UDT = "urn:un:unece:uncefact:data:standard:UnqualifiedDataType:100"
QDT = "urn:un:unece:uncefact:data:standard:QualifiedDataType:100"
PROFILE = "urn:cen.eu:en16931:2017"

INVOICE, CREDIT_NOTE = "380", "381"
"""UNTDID 1001."""
SEPA_TRANSFER, TRANSFER = "58", "30"
"""UNTDID 4461."""
EXEMPTIONS = {VatCategory.EXEMPT: "Exempt from VAT", VatCategory.NOT_SUBJECT: "Not subject to VAT"}
"""BT-120 where a reason must be given (BR-E-10, BR-O-10)."""


def invoice_xml(statement: Statement, voice: Voice) -> bytes:
    """The invoice as UTF-8 XML. ManyInvalid names every rule that the statement breaks."""
    if wrong := faults(statement):
        raise ManyInvalid([(f"invoice.{rule}", text) for rule, text in wrong])
    etree: Any = library("lxml.etree")
    shown = turned(statement) if statement.kind is StatementKind.CREDIT_NOTE else statement
    names = {"rsm": RSM, "ram": RAM, "udt": UDT, "qdt": QDT}
    root = etree.Element(f"{{{RSM}}}CrossIndustryInvoice", nsmap=names)
    _Writer(etree, root, shown, voice).write()
    written: bytes = etree.tostring(root, xml_declaration=True, encoding="UTF-8", pretty_print=True)
    return written


def turned(statement: Statement) -> Statement:
    """The same with every amount and quantity of the other sign."""
    return replace(
        statement,
        lines=tuple(replace(o, quantity=-o.quantity, net_minor=-o.net_minor) for o in statement.lines),
        vat=tuple(replace(v, base_minor=-v.base_minor, vat_minor=-v.vat_minor) for v in statement.vat),
        net_minor=-statement.net_minor,
        vat_minor=-statement.vat_minor,
        gross_minor=-statement.gross_minor,
    )


class _Writer:
    """Writes the elements in the order of the schema."""

    def __init__(self, etree: Any, root: Any, statement: Statement, voice: Voice) -> None:
        self._etree, self._root = etree, root
        self._statement, self._voice = statement, voice
        self._currency = Currency(statement.currency)
        self._last_day = statement.period_end - timedelta(days=1)

    def write(self) -> None:
        statement = self._statement
        context = self._rsm(self._root, "ExchangedDocumentContext")
        self._put(self._put(context, "GuidelineSpecifiedDocumentContextParameter"), "ID", PROFILE)
        document = self._rsm(self._root, "ExchangedDocument")
        self._put(document, "ID", statement.number)
        credit = statement.kind is StatementKind.CREDIT_NOTE
        self._put(document, "TypeCode", CREDIT_NOTE if credit else INVOICE)
        self._day(self._put(document, "IssueDateTime"), statement.issued_on)
        for note in statement.notes:
            self._put(self._put(document, "IncludedNote"), "Content", note)
        trade = self._rsm(self._root, "SupplyChainTradeTransaction")
        for line in statement.lines:
            self._line(trade, line)
        self._agreement(trade)
        delivered = self._put(
            self._put(trade, "ApplicableHeaderTradeDelivery"), "ActualDeliverySupplyChainEvent"
        )
        self._day(self._put(delivered, "OccurrenceDateTime"), self._last_day)
        self._settlement(trade)

    def _line(self, trade: Any, line: Line) -> None:
        item = self._put(trade, "IncludedSupplyChainTradeLineItem")
        self._put(self._put(item, "AssociatedDocumentLineDocument"), "LineID", str(line.number))
        product = self._put(item, "SpecifiedTradeProduct")
        self._put(product, "Name", self._voice.line(line))
        if under := self._voice.under(line):
            self._put(product, "Description", under)
        price = self._put(self._put(item, "SpecifiedLineTradeAgreement"), "NetPriceProductTradePrice")
        self._put(price, "ChargeAmount", f"{line.unit_price:f}")
        delivery = self._put(item, "SpecifiedLineTradeDelivery")
        self._put(delivery, "BilledQuantity", f"{line.quantity:f}", unitCode=line.unit.value)
        settlement = self._put(item, "SpecifiedLineTradeSettlement")
        tax = self._put(settlement, "ApplicableTradeTax")
        self._put(tax, "TypeCode", "VAT")
        self._put(tax, "CategoryCode", line.vat_category.value)
        if line.vat_percent is not None:
            self._put(tax, "RateApplicablePercent", f"{line.vat_percent:f}")
        sums = self._put(settlement, "SpecifiedTradeSettlementLineMonetarySummation")
        self._put(sums, "LineTotalAmount", self._amount(line.net_minor))

    def _agreement(self, trade: Any) -> None:
        statement, issuer = self._statement, self._statement.issuer
        agreement = self._put(trade, "ApplicableHeaderTradeAgreement")
        seller = self._put(agreement, "SellerTradeParty")
        self._put(seller, "ID", statement.site_id)
        self._put(seller, "Name", issuer.name)
        self._address(seller, issuer.address)
        # Who is not subject to VAT names no VAT number (BR-O-02).
        if issuer.tax_id and any(o.vat_category is not VatCategory.NOT_SUBJECT for o in statement.lines):
            number = issuer.tax_id.replace(" ", "")
            scheme = "VA" if number[:2].isalpha() and number[:2].isupper() else "FC"
            self._put(self._put(seller, "SpecifiedTaxRegistration"), "ID", number, schemeID=scheme)
        buyer = self._put(agreement, "BuyerTradeParty")
        self._put(buyer, "ID", statement.recipient.member_id)
        self._put(buyer, "Name", statement.recipient.name)
        self._address(buyer, statement.recipient.address)

    def _address(self, party: Any, lines: tuple[str, ...]) -> None:
        address = self._put(party, "PostalTradeAddress")
        kept = [*lines[:2], ", ".join(lines[2:])] if len(lines) > 2 else list(lines)
        for name, text in zip(("LineOne", "LineTwo", "LineThree"), kept, strict=False):
            self._put(address, name, text)
        self._put(address, "CountryID", self._statement.issuer.country)

    def _settlement(self, trade: Any) -> None:
        statement = self._statement
        settlement = self._put(trade, "ApplicableHeaderTradeSettlement")
        self._put(settlement, "PaymentReference", statement.number)
        self._put(settlement, "InvoiceCurrencyCode", statement.currency)
        credit = statement.kind is StatementKind.CREDIT_NOTE
        if statement.issuer.payment_to and not credit:
            self._payment(settlement, statement.issuer.payment_to.replace(" ", ""))
        for total in self._totals():
            self._tax(settlement, total)
        period = self._put(settlement, "BillingSpecifiedPeriod")
        self._day(self._put(period, "StartDateTime"), statement.period_start)
        self._day(self._put(period, "EndDateTime"), self._last_day)
        if statement.gross_minor > 0:
            terms = self._put(settlement, "SpecifiedTradePaymentTerms")
            self._day(self._put(terms, "DueDateDateTime"), statement.due_on or statement.issued_on)
        sums = self._put(settlement, "SpecifiedTradeSettlementHeaderMonetarySummation")
        self._put(sums, "LineTotalAmount", self._amount(statement.net_minor))
        self._put(sums, "TaxBasisTotalAmount", self._amount(statement.net_minor))
        self._put(sums, "TaxTotalAmount", self._amount(statement.vat_minor), currencyID=statement.currency)
        self._put(sums, "GrandTotalAmount", self._amount(statement.gross_minor))
        self._put(sums, "DuePayableAmount", self._amount(statement.gross_minor))
        for link in (statement.corrects, statement.replaces):
            if link is not None:
                named = self._put(settlement, "InvoiceReferencedDocument")
                self._put(named, "IssuerAssignedID", link.number)
                self._day(self._put(named, "FormattedIssueDateTime"), link.issued_on, QDT)

    def _payment(self, settlement: Any, account: str) -> None:
        iban = is_iban(account)
        means = self._put(settlement, "SpecifiedTradeSettlementPaymentMeans")
        sepa = iban and self._statement.currency == "EUR"
        self._put(means, "TypeCode", SEPA_TRANSFER if sepa else TRANSFER)
        creditor = self._put(means, "PayeePartyCreditorFinancialAccount")
        self._put(creditor, "IBANID" if iban else "ProprietaryID", account)

    def _totals(self) -> Iterable[VatTotal]:
        told = {(total.category, total.percent) for total in self._statement.vat}
        yield from self._statement.vat
        missing = {group(line) for line in self._statement.lines} - told
        for category, percent in sorted(missing):
            base = sum(o.net_minor for o in self._statement.lines if group(o) == (category, percent))
            yield VatTotal(category=category, percent=percent, base_minor=base, vat_minor=0)

    def _tax(self, settlement: Any, total: VatTotal) -> None:
        tax = self._put(settlement, "ApplicableTradeTax")
        self._put(tax, "CalculatedAmount", self._amount(total.vat_minor))
        self._put(tax, "TypeCode", "VAT")
        if reason := EXEMPTIONS.get(total.category):
            self._put(tax, "ExemptionReason", reason)
        self._put(tax, "BasisAmount", self._amount(total.base_minor))
        self._put(tax, "CategoryCode", total.category.value)
        rate = Decimal(0) if total.category is VatCategory.NOT_SUBJECT else total.percent
        self._put(tax, "RateApplicablePercent", f"{rate:f}")

    def _amount(self, minor: int) -> str:
        return f"{Money(minor, self._currency).to_decimal():.2f}"

    def _day(self, parent: Any, day: date, space: str = UDT) -> None:
        made = self._etree.SubElement(parent, f"{{{space}}}DateTimeString", format="102")
        made.text = day.strftime("%Y%m%d")

    def _rsm(self, parent: Any, name: str) -> Any:
        return self._etree.SubElement(parent, f"{{{RSM}}}{name}")

    def _put(self, parent: Any, name: str, text: str | None = None, **attributes: str) -> Any:
        made = self._etree.SubElement(parent, f"{{{RAM}}}{name}", **attributes)
        made.text = text
        return made
