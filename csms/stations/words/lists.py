"""Local authorization lists and reservations (OCPP blocks D and H)."""

from dataclasses import dataclass
from datetime import datetime

from csms.stations.model import TokenAnswer, TokenRef


@dataclass(frozen=True, slots=True)
class ListEntry:
    """A token and its verdict. `answer` None: take it out (differential lists only)."""

    token: TokenRef
    answer: TokenAnswer | None = None


@dataclass(frozen=True, slots=True)
class SendLocalList:
    """Keep these tokens for when we cannot be reached. `full`: instead of all others.

    `version` is 1 or more. A refusal of a difference means: send the full list.
    """

    version: int
    full: bool
    entries: tuple[ListEntry, ...] = ()


@dataclass(frozen=True, slots=True)
class GetLocalListVersion:
    """`data`: the version; 0 for an empty list, -1 where a station of OCPP 1.6 keeps none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReserveNow:
    """Keep an EVSE for `token` until `expires_at`. `evse` None: any; `connector_type`: of that kind."""

    reservation_id: int
    expires_at: datetime
    token: TokenRef
    evse: int | None = None
    connector_type: str = ""
    group_token: TokenRef | None = None


@dataclass(frozen=True, slots=True)
class CancelReservation:
    reservation_id: int


@dataclass(frozen=True, slots=True)
class ReservationReported:
    """A reservation ended at the station: expired, removed or no_transaction."""

    reservation_id: int
    state: str
