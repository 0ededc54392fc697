"""An imagined session priced by any tariff, kept or just written, with the market's prices as they are."""

from collections.abc import Mapping
from fractions import Fraction

from csms.access.groups.service import GroupsService
from csms.errors import InvalidInput, NotFound
from csms.tariffs.component import Payer
from csms.tariffs.curve import after
from csms.tariffs.imagined import parse_session
from csms.tariffs.market.service import MarketService
from csms.tariffs.parsing import EXTENSION, parse_tariff
from csms.tariffs.quote import price_imagined
from csms.tariffs.service import TariffsService


class Preview:
    """Writes nothing."""

    def __init__(self, tariffs: TariffsService, market: MarketService, groups: GroupsService) -> None:
        self._tariffs = tariffs
        self._market = market
        self._groups = groups

    async def quote(
        self,
        *,
        session: object,
        tariff_id: str | None = None,
        document: object | None = None,
        member_id: str | None = None,
    ) -> Mapping[str, object]:
        """What `phaseyard price` prints, for the tariff of that id or that document.

        `member_id`: who would pay; left out, a guest. InvalidInput names what is wrong, its path
        beginning with `document` or `session`; NotFound when there is no such tariff; PricesMissing
        when the market has no price for all of it.
        """
        if (tariff_id is None) == (document is None):
            raise InvalidInput("tariff_id", "give either a tariff's id or a document")
        if tariff_id is not None:
            tariff = (await self._tariffs.get(tariff_id)).tariff
        else:
            tariff = parse_tariff(document, "document")
        imagined = parse_session(session, "session")
        curve = imagined.curve
        end = after(curve.start, sum((segment.duration_s for segment in curve.segments), Fraction(0)))
        feeds = [spot.feed_id for spot in tariff.spots]
        try:
            market = await self._market.market(feeds, curve.start, end)
        except NotFound as error:
            raise InvalidInput(f"document.{EXTENSION}.components", str(error)) from None
        groups = () if member_id is None else await self._groups.groups_of(member_id)
        payer = Payer(member_id=member_id, group_ids=frozenset(group.id for group in groups))
        return price_imagined(tariff, imagined, market, payer)
