"""PDF by typst, looked into with pypdf, which is not what wrote it.

What of PDF/A-3b (ISO 19005-3) can be seen so is checked here: the claim in the XMP, output intent, fonts
inside, no encryption, no script, no outside file. No full validator was run: none is to be had offline.
"""

import io
import json
import re
from dataclasses import replace
from datetime import date
from typing import Any

import pypdf
import pytest
from pypdf.generic import IndirectObject

from csms.documents import typeset
from csms.documents.language import Language
from csms.documents.paper import paper
from csms.documents.sentence import voice_of
from csms.errors import InvalidInput
from csms.ledger.statement import Recipient, Statement
from tests.csms.documents import samples


def made(statement: Statement) -> bytes:
    return typeset.pdf(paper(statement, voice_of(statement)), statement.issued_on)


def text_of(pdf: bytes) -> str:
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return re.sub(r"\s+", " ", "\n".join(page.extract_text() for page in pages))


@pytest.fixture(scope="module")
def plain() -> bytes:
    return made(samples.statement("en"))


def fonts(reader: pypdf.PdfReader) -> list[Any]:
    found = {}
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            assert isinstance(font, IndirectObject)
            found[font.idnum] = font.get_object()
    return list(found.values())


def test_it_claims_pdf_a_3b_and_keeps_what_can_be_seen_of_it(plain: bytes) -> None:
    reader = pypdf.PdfReader(io.BytesIO(plain))
    root: Any = reader.root_object
    xmp = root["/Metadata"].get_data().decode()
    assert re.search(r"<pdfaid:part>3</pdfaid:part>\s*<pdfaid:conformance>B</pdfaid:conformance>", xmp)
    (intent,) = root["/OutputIntents"]
    assert intent.get_object()["/S"] == "/GTS_PDFA1"
    assert intent.get_object()["/DestOutputProfile"].get_object().get_data()[36:40] == b"acsp"
    assert not reader.is_encrypted
    assert reader.trailer["/ID"]
    assert not {"/OpenAction", "/AA", "/AcroForm"} & set(root)
    for font in fonts(reader):
        (descendant,) = font["/DescendantFonts"]
        descriptor = descendant.get_object()["/FontDescriptor"]
        assert {"/FontFile2", "/FontFile3"} & set(descriptor), "a font is not inside"
        assert "/ToUnicode" in font, "its text could not be copied"
    assert b"/JavaScript" not in plain
    assert root["/MarkInfo"]["/Marked"], "readers aloud find no structure"
    assert root["/Lang"] == "en-GB"


def test_the_same_statement_gives_the_same_bytes(plain: bytes) -> None:
    assert made(samples.statement("en")) == plain
    assert made(replace(samples.statement("en"), number="WY-2026-0099")) != plain


def test_its_date_is_the_day_of_issue(plain: bytes) -> None:
    reader = pypdf.PdfReader(io.BytesIO(plain))
    assert reader.metadata is not None
    created = reader.metadata.creation_date
    assert created is not None
    assert created.date() == date(2026, 2, 3)
    assert reader.metadata.title == "Invoice for charging WY-2026-0012"


def test_what_must_be_on_it_is_on_it(plain: bytes) -> None:
    text = text_of(plain)
    wanted = (
        *("WY-2026-0012", "Flat 12", "Weavers' Yard Housing Association", "NO123456789MVA"),
        *("To pay by 17 February 2026", "€310.66", "DE02 1203 0000 0000 2020 51"),
        *("Share of: Capacity", "€153.81", "VAT 25 % on €248.53", "€62.13"),
        *("Courtyard 12", "5,018.000", "The register at the end was missing."),
        *(
            "Main meter of the chargers",
            "1,000.000 kWh",
            "37.600 kWh",
            "€776.74",
            "Page 1 of 2",
            "Page 2 of 2",
        ),
    )
    assert [each for each in wanted if each not in text] == []


EVIL = r"""#panic("x") $x$ [b] *bold* _i_ `raw` \ <label> @ref // no /* no */ {a} "q" ~ ---"""


def test_signs_of_the_setter_are_harmless_in_names() -> None:
    statement = replace(
        samples.statement("en"),
        recipient=Recipient(member_id="x", name=EVIL, address=(EVIL,)),
        issuer=replace(samples.YARD, name=f"Issuer {EVIL}"),
        sessions=tuple(replace(one, station=EVIL, token="#a") for one in samples.session_lines(2)),
        notes=(EVIL, '#include "/etc/passwd"', '#read("/etc/passwd")'),
    )
    text = text_of(made(statement))
    # Extraction may break where a line wraps; without blanks all of it must be there.
    assert text.replace(" ", "").count(EVIL.replace(" ", "")) >= 4
    assert '#include"/etc/passwd"' in text.replace(" ", "")
    assert "root:" not in text


def test_three_hundred_sessions_go_over_pages_with_the_head_repeated() -> None:
    pdf = made(samples.statement("en", sessions=300))
    pages = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]
    of_the_list = [text for text in pages if "Meter, start" in text]
    assert len(of_the_list) >= 4
    assert sum(text.count("Courtyard 12") for text in pages) == 300
    assert all("Flat 12" in text for text in pages), "each page names its member"
    assert f"Page {len(pages)} of {len(pages)}" in pages[-1]


def starts_of_text(page: pypdf.PageObject) -> list[float]:
    """How far from the left edge each piece of text begins, in points; A4 has 595."""
    starts: list[float] = []

    def heard(text: str, cm: list[float], tm: list[float], *_: object) -> None:
        if text.strip():
            starts.append(tm[4] * cm[0] + cm[4])

    page.extract_text(visitor_text=heard)
    return starts


def test_names_that_are_too_long_for_a_line_wrap() -> None:
    name = (
        "Bakery van of the very long name that a firm by the canal once chose for its own little lorry " * 2
    )
    statement = replace(
        samples.statement("de"),
        recipient=Recipient(member_id="x", name=name.strip(), address=()),
        sessions=tuple(
            replace(one, station=name[:110], token="DE-8AC-C12E456L89-X") for one in samples.session_lines(3)
        ),
    )
    pdf = made(statement)
    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        assert 0 < max(starts_of_text(page)) < 577, "text begins beyond the right edge of the paper"
    assert name.replace(" ", "")[:150] in text_of(pdf).replace(" ", "")


@pytest.mark.parametrize("language", Language)
def test_every_language_can_be_set(language: Language) -> None:
    statement = samples.spot_statement(language.value)
    text = text_of(made(statement))
    assert typeset.MISSING not in text
    assert voice_of(statement).say("estimates.title").split(",")[0] in text


def test_a_sign_that_no_font_has_is_shown_as_missing() -> None:
    recipient = Recipient(member_id="x", name="Flat 12 漢字 🙂", address=())
    text = text_of(made(replace(samples.statement("en"), recipient=recipient)))
    assert f"Flat 12 {typeset.MISSING}{typeset.MISSING} {typeset.MISSING}" in text


def test_letters_of_europe_are_there() -> None:
    names = "Łódź Žižka Ærø Þór ŐŰ Ñandú Ștefan Ελλάδα Київ"
    recipient = Recipient(member_id="x", name=names, address=())
    assert names in text_of(made(replace(samples.statement("en"), recipient=recipient)))


def test_a_negative_amount_and_a_credit_note_can_be_set() -> None:
    text = text_of(made(samples.credit_note(samples.spot_statement("en"))))
    assert "-182.437 kWh" in text
    assert "-€44.57" in text
    assert "€0.39" in text
    assert "Credited" in text


def test_pages_can_be_seen_as_pictures() -> None:
    statement = samples.statement("en")
    first, second = typeset.pictures(paper(statement, voice_of(statement)), statement.issued_on, ppi=36)
    assert first[:8] == second[:8] == b"\x89PNG\r\n\x1a\n"


def test_a_fault_of_the_data_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    statement = samples.statement("en")
    whole = json.loads(json.dumps(paper(statement, voice_of(statement))))
    del whole["pay"]
    with pytest.raises(InvalidInput, match=r"document: cannot be set: .*pay"):
        typeset.pdf(whole, statement.issued_on)
