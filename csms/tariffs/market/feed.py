"""One series of a market: an area or a list of prices in one currency, and where it comes from."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from csms.errors import InvalidInput
from csms.money import Currency
from csms.sites.model import check_id, check_name

RESOLUTIONS = (15, 30, 60)
"""Minutes of a price interval that occur."""
LONGEST_AREA = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """`area`, `sequence`, `minutes` choose among the series of a document that has several (None: any
    area, the lowest sequence, the finest resolution).

    `source`: {"kind": "folder" | "url", …} as `inputs/` reads it; None: documents are sent by REST.
    `checked_at`: when the source was asked last; `fault`: what was wrong then, "" when nothing was.
    """

    id: str
    name: str
    currency: Currency
    area: str | None = None
    sequence: int | None = None
    minutes: int | None = None
    source: Mapping[str, object] | None = None
    created_at: datetime
    checked_at: datetime | None = None
    fault: str = ""
    fault_at: datetime | None = None


def check_feed(feed: Feed) -> Feed:
    """The feed if it is sound; InvalidInput names the field."""
    check_id("id", feed.id)
    check_name("name", feed.name)
    if feed.area is not None and not (feed.area.isprintable() and 1 <= len(feed.area) <= LONGEST_AREA):
        raise InvalidInput("area", "give the area's code as the market writes it, such as 10YBE----------2")
    if feed.sequence is not None and not 1 <= feed.sequence <= 99:
        raise InvalidInput("sequence", "must be from 1 to 99; leave it out for the lowest there is")
    if feed.minutes is not None and feed.minutes not in RESOLUTIONS:
        raise InvalidInput("minutes", f"must be one of {', '.join(map(str, RESOLUTIONS))}")
    return feed
