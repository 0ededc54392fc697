"""The PDF with its invoice inside, looked into with pypdf and read back with factur-x."""

import io
import re
from typing import Any

import facturx
import pypdf
import pytest
import time_machine

from csms.documents import typeset
from csms.documents.hybrid import ATTACHMENT, check_schema, hybrid
from csms.documents.invoice_xml import invoice_xml
from csms.documents.paper import paper
from csms.documents.sentence import voice_of
from csms.errors import OurFault
from tests.csms.documents import samples

STATEMENT = samples.statement("de")
VOICE = voice_of(STATEMENT)


def made(xml: bytes) -> bytes:
    pdf = typeset.pdf(paper(STATEMENT, VOICE), STATEMENT.issued_on)
    return hybrid(
        pdf, xml, title="Rechnung 12", author="Weavers' Yard", language="de-DE", issued_on=STATEMENT.issued_on
    )


@pytest.fixture(scope="module")
def xml() -> bytes:
    return invoice_xml(STATEMENT, VOICE)


@pytest.fixture(scope="module")
def whole(xml: bytes) -> bytes:
    with time_machine.travel("2026-05-01T10:00:00Z", tick=False):
        return made(xml)


def test_the_invoice_comes_out_as_it_went_in(whole: bytes, xml: bytes) -> None:
    name, found = facturx.get_xml_from_pdf(whole, check_xsd=True)
    assert (name, found) == (ATTACHMENT, xml)


def test_it_still_claims_pdf_a_3b_and_says_that_it_is_an_invoice(whole: bytes) -> None:
    """ISO 19005-3, 6.8: an attachment has its relationship, type and date. Factur-X 1.07: the fx schema."""
    reader = pypdf.PdfReader(io.BytesIO(whole))
    root: Any = reader.root_object
    assert whole.startswith(b"%PDF-1.7")
    xmp = root["/Metadata"].get_data().decode()
    assert "<pdfaid:part>3</pdfaid:part>" in xmp
    assert "<pdfaid:conformance>B</pdfaid:conformance>" in xmp
    assert "<fx:ConformanceLevel>EN 16931</fx:ConformanceLevel>" in xmp
    assert "<fx:DocumentFileName>factur-x.xml</fx:DocumentFileName>" in xmp
    assert "<pdfaSchema:prefix>fx</pdfaSchema:prefix>" in xmp
    assert "<rdf:Description>" not in xmp
    (attached,) = root["/AF"]
    attached = attached.get_object()
    assert attached["/AFRelationship"] == "/Alternative"
    stream = attached["/EF"]["/F"].get_object()
    assert stream["/Subtype"] == "/text/xml"
    assert "/ModDate" in stream["/Params"]
    assert root["/OutputIntents"]
    assert root["/MarkInfo"]["/Marked"]
    assert not reader.is_encrypted
    assert len(reader.pages) == 2


def test_no_time_of_the_machine_is_in_it_and_the_bytes_are_the_same_later(whole: bytes, xml: bytes) -> None:
    with time_machine.travel("2027-01-02T03:04:05Z", tick=False):
        assert made(xml) == whole
    reader = pypdf.PdfReader(io.BytesIO(whole))
    xmp = reader.root_object["/Metadata"].get_object().get_data().decode()  # type: ignore[union-attr]
    assert "202605" not in re.sub(r"\W", "", xmp), "the day on which it was made"
    assert xmp.count("2026-02-03T12:00:00+00:00") == 2
    assert reader.metadata is not None
    assert str(reader.metadata["/ModDate"]) == "D:20260203120000+00'00'"


def test_another_invoice_gives_another_identifier(whole: bytes, xml: bytes) -> None:
    other = made(xml.replace(b"<ram:Name>Flat 12<", b"<ram:Name>Flat 13<"))
    one, two = (pypdf.PdfReader(io.BytesIO(each)).trailer["/ID"] for each in (whole, other))
    assert one != two


def test_what_breaks_the_schema_is_not_put_in(xml: bytes) -> None:
    check_schema(xml)
    with pytest.raises(OurFault, match=r"an invoice breaks its schema.*GrandTotal"):
        check_schema(xml.replace(b"GrandTotalAmount", b"GrandTotalSum"))
