"""A card that is nobody's carries what its adoption needs."""

from dataclasses import FrozenInstanceError
from datetime import UTC, datetime

import pytest

from csms.access.cards.card import UnknownCard
from csms.stations.model import TokenKind


def test_a_card_is_a_value() -> None:
    at = datetime(2026, 11, 2, tzinfo=UTC)
    card = UnknownCard(
        folded="04aa",
        text="04AA",
        kind=TokenKind.RFID,
        station_id="YARD-01",
        evse=1,
        first_seen_at=at,
        last_seen_at=at,
        times=1,
    )
    assert card.text.lower() == card.folded
    with pytest.raises(FrozenInstanceError):
        card.times = 2  # type: ignore[misc]
