"""Formats are told apart by what is in the document, not by its name."""

from collections.abc import Callable

import pytest

from csms.errors import InvalidInput
from csms.tariffs.market.document import LARGEST_BYTES
from csms.tariffs.market.feed import Feed
from csms.tariffs.market.reading import read_document


def test_told_apart(
    feed: Callable[..., Feed], series: Callable[..., str], document: Callable[..., bytes]
) -> None:
    xml = document(series((1, "5")))
    assert read_document(b"\xef\xbb\xbf" + xml, feed()).kind == "a44"
    assert read_document(xml.decode().encode("utf-16"), feed()).kind == "a44"
    csv = b"timestamp,price,unit\n2026-01-15T00:00Z,1,EUR/MWh\n2026-01-15T01:00Z,1,EUR/MWh"
    assert read_document(csv, feed()).kind == "csv"


@pytest.mark.parametrize(
    ("raw", "problem"), [(b" \n", "is empty"), (b"x" * (LARGEST_BYTES + 1), "at most 4000000 are taken")]
)
def test_what_is_not_read(feed: Callable[..., Feed], raw: bytes, problem: str) -> None:
    with pytest.raises(InvalidInput, match=problem):
        read_document(raw, feed())
