"""A price document of whatever format, told apart by its first sign."""

from csms.errors import InvalidInput
from csms.tariffs.market.a44 import parse_a44
from csms.tariffs.market.csv_prices import parse_csv
from csms.tariffs.market.document import LARGEST_BYTES, PriceDocument
from csms.tariffs.market.feed import Feed


def read_document(raw: bytes, feed: Feed) -> PriceDocument:
    """XML is a document of type A44, everything else CSV. InvalidInput says what is wrong, and where."""
    if len(raw) > LARGEST_BYTES:
        raise InvalidInput("document", f"has {len(raw)} bytes; at most {LARGEST_BYTES} are taken")
    start = raw.lstrip(b"\xef\xbb\xbf\xff\xfe\x00 \t\r\n")[:1]
    if not start:
        raise InvalidInput("document", "is empty")
    return parse_a44(raw, feed) if start == b"<" else parse_csv(raw, feed)
