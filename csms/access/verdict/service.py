"""Judges tokens in the transaction of the caller, and notes what was refused."""

from collections.abc import Sequence
from datetime import datetime

from csms.access.cards.card import UnknownCard
from csms.access.cards.repository import note
from csms.access.tokens.token import WITHOUT_CARD, fold, shown
from csms.access.verdict.decide import Decision, Reason, Running, decide
from csms.access.verdict.repository import known_token, place_of, rights_at
from csms.stations.model import TokenRef
from csms.store.database import Connection, Database
from csms.store.outbox import Fact, put


class Judge:
    """Fetches what has to be known, and decides (`decide`)."""

    def __init__(self, database: Database) -> None:
        self._database = database

    async def verdict(
        self,
        connection: Connection,
        station_id: str,
        presented: TokenRef,
        now: datetime,
        *,
        evse: int | None = None,
        running: Sequence[Running] = (),
    ) -> Decision:
        """Whether `presented` may charge at the station at `now`; changes nothing."""
        place = await place_of(connection, station_id)
        nameless = presented.kind in WITHOUT_CARD
        known = None if nameless else await known_token(connection, fold(presented.text))
        rights = () if place.site_id is None else await rights_at(connection, place.site_id, known)
        return decide(presented, known=known, place=place, rights=rights, running=running, evse=evse, now=now)

    async def note_refusal(
        self, connection: Connection, decision: Decision, station_id: str, evse: int | None, now: datetime
    ) -> None:
        """Tell of a refusal, and remember a card that is nobody's, so that someone can adopt it."""
        place = await place_of(connection, station_id)
        unknown = decision.reason is Reason.UNKNOWN_TOKEN
        text = shown(decision.presented.text)
        if unknown:
            card = UnknownCard(
                folded=decision.folded,
                text=text,
                kind=decision.presented.kind,
                station_id=station_id,
                evse=evse,
                first_seen_at=now,
                last_seen_at=now,
                times=1,
            )
            await note(connection, self._database.dialect, card)
        body = {
            "token": text,
            "member": decision.member_name,
            "station": station_id,
            "evse": evse,
            "reason": decision.reason.value,
            "sentence": decision.sentence,
        }
        topic = "token.unknown" if unknown else "token.refused"
        fact = Fact(topic=topic, at=now, site_id=place.site_id, subject=station_id, body=body)
        await put(connection, fact)

    async def answer(self, station_id: str, presented: TokenRef, evse: int | None, now: datetime) -> Decision:
        """The verdict on a token that was presented, by itself; a refusal is noted before it is told."""
        async with self._database.read() as connection:
            decision = await self.verdict(connection, station_id, presented, now, evse=evse)
        if not decision.accepted:

            async def work(connection: Connection) -> None:
                await self.note_refusal(connection, decision, station_id, evse, now)

            await self._database.writer.run(work)
        return decision
