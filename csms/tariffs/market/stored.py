"""A price document as it is kept."""

from dataclasses import dataclass
from datetime import datetime

from csms.tariffs.market.series import Standing


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredDocument:
    """`name` says where it came from, `sha256` is of its bytes, `made_at` what it says of itself.

    From `start` to before `end` it has a price at every instant.
    """

    id: str
    feed_id: str
    kind: str
    name: str
    sha256: str
    mrid: str | None
    revision: int
    made_at: datetime | None
    received_at: datetime
    start: datetime
    end: datetime

    @property
    def standing(self) -> Standing:
        return Standing(
            document_id=self.id,
            mrid=self.mrid,
            revision=self.revision,
            created_at=self.made_at or self.received_at,
            received_at=self.received_at,
        )


@dataclass(frozen=True, slots=True)
class Taken:
    """`new` is False when the very same bytes were there already."""

    document: StoredDocument
    new: bool
