"""What a station asks, and the answers. Each question names its answer's type."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import get_args

from csms.stations.model import (
    ChargingState,
    Reading,
    Registration,
    StopReason,
    TokenAnswer,
    TokenRef,
)
from csms.stations.words import costs, limits, needs, security


@dataclass(frozen=True, slots=True)
class Boot:
    """The station started or came back. Answer: BootAnswer."""

    vendor: str
    model: str
    serial: str = ""
    firmware: str = ""
    reason: str = ""
    iccid: str = ""
    imsi: str = ""
    meter_type: str = ""
    meter_serial: str = ""


@dataclass(frozen=True, slots=True)
class BootAnswer:
    """`interval_s`: heartbeat interval when accepted, else the wait before the next boot."""

    registration: Registration
    interval_s: int
    now: datetime


@dataclass(frozen=True, slots=True)
class MayCharge:
    """A token was presented. Answer: TokenAnswer."""

    token: TokenRef
    evse: int | None = None


class TransactionStep(StrEnum):
    BEGAN = "began"
    UPDATED = "updated"
    ENDED = "ended"


@dataclass(frozen=True, slots=True, kw_only=True)
class TransactionReported:
    """A step of a transaction. Answer: TransactionAnswer.

    `transaction_id` is the station's text; None when the station leaves it to us (OCPP 1.6
    start). `register_wh` is the register at the step, when the message has one of its own.
    `sequence` counts messages of a transaction (OCPP 2.x). `offline`: happened while we could
    not be reached. `cost`: what the station calculated. There is no refusing a step: it is a
    fact. `message_id` serves to recognise a repeat on the same socket only.
    """

    step: TransactionStep
    transaction_id: str | None
    at: datetime
    evse: int | None = None
    connector: int | None = None
    token: TokenRef | None = None
    group_token: TokenRef | None = None
    register_wh: int | None = None
    readings: tuple[Reading, ...] = ()
    charging: ChargingState | None = None
    reason: StopReason | None = None
    trigger: str = ""
    sequence: int | None = None
    offline: bool = False
    remote_start_id: int | None = None
    reservation_id: int | None = None
    deviations: tuple[str, ...] = ()
    cost: costs.CostReported | None = None


@dataclass(frozen=True, slots=True)
class TransactionAnswer:
    """`transaction_id` as the station must use it from now on; `token` when a token was given."""

    transaction_id: str
    token: TokenAnswer | None = None


@dataclass(frozen=True, slots=True)
class VendorMessage:
    """A maker's own message (DataTransfer). Answer: VendorAnswer."""

    vendor: str
    message: str = ""
    data: str | None = None


class VendorStatus(StrEnum):
    ACCEPTED = "accepted"
    REJECTED = "rejected"
    UNKNOWN_MESSAGE = "unknown_message"
    UNKNOWN_VENDOR = "unknown_vendor"


@dataclass(frozen=True, slots=True)
class VendorAnswer:
    status: VendorStatus
    data: str | None = None


Question = (
    Boot
    | MayCharge
    | TransactionReported
    | VendorMessage
    | costs.VatNumberAsked
    | limits.ScheduleUpdateAsked
    | needs.NeedsReported
    | security.CertificateAsked
    | security.ChainStatusAsked
    | security.ContractCertificateAsked
    | security.RevocationAsked
)
Answer = (
    BootAnswer
    | TokenAnswer
    | TransactionAnswer
    | VendorAnswer
    | costs.VatNumberAnswer
    | limits.ScheduleUpdateAnswer
    | needs.NeedsAnswer
    | security.CertificateAnswer
    | security.ChainStatusAnswer
    | security.ContractCertificateAnswer
    | security.RevocationAnswer
    | None
)
"""None answers an event."""

QUESTIONS: tuple[type[Question], ...] = get_args(Question)
"""Every kind of question."""
