"""Messages on a station's display (OCPP block O)."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class MessageFormat(StrEnum):
    ASCII = "ascii"
    HTML = "html"
    URI = "uri"
    UTF8 = "utf8"
    QRCODE = "qrcode"


class MessagePriority(StrEnum):
    ALWAYS_FRONT = "always_front"
    IN_FRONT = "in_front"
    NORMAL_CYCLE = "normal_cycle"


class DisplayState(StrEnum):
    """Show it only while the station is in this state."""

    CHARGING = "charging"
    FAULTED = "faulted"
    IDLE = "idle"
    UNAVAILABLE = "unavailable"
    SUSPENDED = "suspended"
    DISCHARGING = "discharging"


@dataclass(frozen=True, slots=True)
class MessageText:
    """`language`: a tag such as nl, empty when none."""

    content: str
    format: MessageFormat = MessageFormat.UTF8
    language: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DisplayMessage:
    """A message to show from `start_at` to `end_at`. `display`: path of a component, if there are several."""

    id: int
    text: MessageText
    priority: MessagePriority = MessagePriority.NORMAL_CYCLE
    state: DisplayState | None = None
    start_at: datetime | None = None
    end_at: datetime | None = None
    transaction_id: str = ""
    display: str = ""
    extra: tuple[MessageText, ...] = ()


@dataclass(frozen=True, slots=True)
class SetDisplayMessage:
    message: DisplayMessage


@dataclass(frozen=True, slots=True)
class GetDisplayMessages:
    """They come as DisplayMessagesReported."""

    request_id: int
    ids: tuple[int, ...] = ()
    priority: MessagePriority | None = None
    state: DisplayState | None = None


@dataclass(frozen=True, slots=True)
class ClearDisplayMessage:
    id: int


@dataclass(frozen=True, slots=True)
class ReportedText:
    content: str
    format: str = ""
    language: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportedMessage:
    """A message that the station has."""

    id: int
    text: ReportedText
    priority: str = ""
    state: str = ""
    start_at: datetime | None = None
    end_at: datetime | None = None
    transaction_id: str = ""
    display: str = ""
    extra: tuple[ReportedText, ...] = ()


@dataclass(frozen=True, slots=True)
class DisplayMessagesReported:
    """One part of the messages that we asked for by `request_id`."""

    request_id: int
    last: bool
    messages: tuple[ReportedMessage, ...] = ()
