"""What is known of a card that is nobody's."""

from dataclasses import dataclass
from datetime import datetime

from csms.stations.model import TokenKind


@dataclass(frozen=True, slots=True, kw_only=True)
class UnknownCard:
    """Where it was held last, and how often in all."""

    folded: str
    text: str
    kind: TokenKind
    station_id: str
    evse: int | None
    first_seen_at: datetime
    last_seen_at: datetime
    times: int
