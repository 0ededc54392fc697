"""Rows of unknown cards, on both databases."""

from datetime import datetime, timedelta

from csms.access.cards import repository
from csms.access.cards.card import UnknownCard
from csms.clock import ManualClock
from csms.stations.model import TokenKind
from csms.store.database import Database
from tests.csms.yard import BAY_1, ELSEWHERE, SITE, VAN_1


def card(folded: str, station_id: str, at: datetime) -> UnknownCard:
    return UnknownCard(
        folded=folded,
        text=folded.upper(),
        kind=TokenKind.RFID,
        station_id=station_id,
        evse=None,
        first_seen_at=at,
        last_seen_at=at,
        times=1,
    )


async def test_a_card_held_again_is_counted_and_keeps_its_first_time(
    yard: Database, clock: ManualClock
) -> None:
    first, later = clock.now(), clock.now() + timedelta(minutes=1)
    async with yard.write() as connection:
        await repository.note(connection, yard.dialect, card("0a", BAY_1, first))
        await repository.note(connection, yard.dialect, card("0a", VAN_1, later))
        await repository.note(connection, yard.dialect, card("0b", ELSEWHERE, later + timedelta(minutes=1)))
        found = await repository.find(connection, "0a")
        assert found is not None
        assert (found.times, found.first_seen_at, found.last_seen_at, found.station_id) == (
            2,
            first,
            later,
            VAN_1,
        )
        assert [each.folded for each in await repository.latest(connection, None, 10)] == ["0b", "0a"]
        assert [each.folded for each in await repository.latest(connection, SITE, 10)] == ["0a"]
        assert await repository.forget(connection, "0a")
        assert not await repository.forget(connection, "0a")
        assert await repository.find(connection, "0a") is None
