"""XML of strangers: lines are known, and nothing in it can expand or reach out."""

import pytest

from csms.errors import InvalidInput
from csms.tariffs.market.xml_tree import read_xml


def test_a_tree() -> None:
    root = read_xml(b'<a xmlns="urn:x"><!-- aside -->\n<b k="1"> one </b>\n<b>two</b><c/></a>')
    assert root.name == "a"
    assert [(b.told("c"), b.text, b.line) for b in root.all("b")] == [(None, " one ", 2), (None, "two", 3)]
    assert root.told("b") == "one"
    assert root.find("d") is None
    with pytest.raises(InvalidInput, match="line 3, c: d is missing"):
        root.need("c").need("d")


def test_other_encodings() -> None:
    text = "<a>æ</a>"
    for coding in ("utf-8", "utf-16", "iso-8859-1"):
        raw = f'<?xml version="1.0" encoding="{coding}"?>{text}'.encode(coding)
        assert read_xml(raw).text == "æ"


BILLION = (
    b'<!DOCTYPE a [<!ENTITY x "xxxxxxxxxx"><!ENTITY y "&x;&x;&x;&x;&x;&x;&x;&x;">]>\n<a>&y;&y;&y;&y;&y;</a>'
)
OUTSIDE = b'<!DOCTYPE a [<!ENTITY x SYSTEM "file:///etc/hostname">]><a>&x;</a>'


@pytest.mark.parametrize("raw", [BILLION, OUTSIDE, b'<!DOCTYPE a SYSTEM "http://127.0.0.1/a.dtd"><a/>'])
def test_a_document_type_is_refused(raw: bytes) -> None:
    with pytest.raises(InvalidInput, match=r"document: has a document type \(DTD\), which is not read"):
        read_xml(raw)


@pytest.mark.parametrize(
    ("raw", "problem"),
    [
        (b"", "document: not XML: no element found"),
        (b"<a><b></a>", "document: not XML: mismatched tag: line 1"),
        (b"<a>\xff</a>", "document: not XML: not well-formed"),
        (b"<a/><a/>", "document: not XML: junk after document element"),
        (b"<a>&nothing;</a>", "document: not XML: undefined entity"),
        (b'<?xml version="1.0" encoding="klingon"?><a/>', "document: "),
        (b"<a>" * 40 + b"</a>" * 40, "document: line 1: elements are nested too deeply"),
    ],
)
def test_what_is_not_xml(raw: bytes, problem: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        read_xml(raw)
    assert str(caught.value).startswith(problem)
