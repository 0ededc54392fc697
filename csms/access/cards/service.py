"""Unknown cards: look through them, give one to a member, or forget it."""

from csms.access.cards import repository
from csms.access.cards.card import UnknownCard
from csms.access.tokens.service import TokensService
from csms.access.tokens.token import Token, fold
from csms.errors import NotFound
from csms.store.database import Database

MOST = 200


class CardsService:
    """The cards held to chargers that are nobody's. They are noted by `csms.access.verdict`."""

    def __init__(self, database: Database, tokens: TokensService) -> None:
        self._database = database
        self._tokens = tokens

    async def latest(self, *, site_id: str | None = None, limit: int = 50) -> tuple[UnknownCard, ...]:
        """The cards held last, newest first; of one site's stations, or of all."""
        async with self._database.read() as connection:
            return await repository.latest(connection, site_id, max(1, min(limit, MOST)))

    async def adopt(self, text: str, *, member_id: str, label: str = "") -> Token:
        """Make an unknown card a token of a member. Raises NotFound, InvalidInput, Conflict."""
        async with self._database.read() as connection:
            card = await repository.find(connection, fold(text))
        if card is None:
            raise NotFound("unknown card", text)
        return await self._tokens.create(text=card.text, kind=card.kind, member_id=member_id, label=label)

    async def dismiss(self, text: str) -> None:
        """Forget a card; it comes back when it is held to a charger again. Raises NotFound."""
        async with self._database.write() as connection:
            if not await repository.forget(connection, fold(text)):
                raise NotFound("unknown card", text)
