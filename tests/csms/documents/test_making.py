import hashlib
from dataclasses import replace

import facturx
import pytest

from csms.documents.columns import DocumentSettings
from csms.documents.making import make
from csms.errors import InvalidInput, ManyInvalid
from tests.csms.documents import samples

PLAIN, ELECTRONIC = DocumentSettings(), DocumentSettings(e_invoice=True)


def test_a_plain_document_carries_no_invoice() -> None:
    made = make(samples.statement("en"), PLAIN)
    assert made.invoice is None
    assert made.hash == hashlib.sha256(made.pdf).hexdigest()
    assert b"factur-x.xml" not in made.pdf


def test_an_electronic_one_carries_it_and_is_the_same_again() -> None:
    made = make(samples.spot_statement("de"), ELECTRONIC)
    assert facturx.get_xml_from_pdf(made.pdf)[1] == made.invoice
    assert make(samples.spot_statement("de"), ELECTRONIC) == made


def test_a_preview_and_one_without_lines_are_no_invoices() -> None:
    preview = replace(samples.statement("en"), number="")
    nothing = replace(samples.statement("en"), lines=(), vat=(), net_minor=0, vat_minor=0, gross_minor=0)
    assert make(preview, ELECTRONIC).invoice is None
    assert make(nothing, ELECTRONIC).invoice is None


def test_what_breaks_a_rule_is_not_made() -> None:
    with pytest.raises(ManyInvalid, match="BR-CO-15"):
        make(replace(samples.statement(), gross_minor=1), ELECTRONIC)


def test_a_language_without_a_catalogue_is_told() -> None:
    with pytest.raises(InvalidInput, match="language: 'fi'"):
        make(samples.statement("fi"), PLAIN)
