"""Price documents that are not kept, such as files beside a command: one market out of all of them."""

from collections.abc import Sequence
from datetime import UTC, datetime

from csms.errors import InvalidInput
from csms.money import Currency
from csms.tariffs.market.feed import Feed
from csms.tariffs.market.reading import read_document
from csms.tariffs.market.series import Market, Standing, lay

NEVER = datetime(1970, 1, 1, tzinfo=UTC)


def loose_market(
    feed_ids: Sequence[str], currency: Currency, files: Sequence[tuple[str, bytes]], area: str | None = None
) -> Market:
    """Every feed has the prices of the (name, bytes) given, later ones before earlier ones.

    InvalidInput names the file and the place in it.
    """
    feed = Feed(id="prices", name="prices", currency=currency, area=area, created_at=NEVER)
    told = []
    for i, (name, raw) in enumerate(files):
        try:
            read = read_document(raw, feed)
        except InvalidInput as error:
            raise InvalidInput(f"{name}, {error.field}", error.problem) from None
        standing = Standing(
            document_id=f"{i:04}",
            mrid=read.mrid,
            revision=read.revision,
            created_at=read.created_at or NEVER,
            received_at=NEVER,
        )
        told.append((standing, read.prices))
    return {feed_id: lay(feed_id, currency, told) for feed_id in feed_ids}
