"""The key of a meter, and for how long it is that."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from csms.metering.signed.public_key import PublicKey


class KeyState(StrEnum):
    """`UNCONFIRMED`: it came with the data, and nobody has said that it is the meter's."""

    UNCONFIRMED = "unconfirmed"
    CONFIRMED = "confirmed"
    REVOKED = "revoked"


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterKey:
    """`serial` as the meter writes it into its records (MS, or GS where a gateway signs).

    Valid from `valid_from` to before `valid_to`, by the time of the reading; None: no bound.
    `source` says who told it: a person, a program, or the station whose data it came with.
    """

    id: str
    serial: str
    key: PublicKey
    state: KeyState
    valid_from: datetime | None = None
    valid_to: datetime | None = None
    note: str = ""
    source: str = ""
    created_at: datetime
    confirmed_at: datetime | None = None

    def covers(self, at: datetime) -> bool:
        """Whether it is the meter's key at that time."""
        return (self.valid_from is None or self.valid_from <= at) and (
            self.valid_to is None or at < self.valid_to
        )

    @property
    def short(self) -> str:
        """What people compare: the first digits of its fingerprint."""
        return self.key.fingerprint[:16]
