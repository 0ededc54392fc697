"""The life of a call that we make, as a table.

    QUEUED ──send──▶ SENT ──result──▶ ANSWERED
      │               ├────error────▶ REFUSED
      │               ├────deadline─▶ TIMED_OUT ──result──▶ ANSWERED_LATE
      │               │                    └─────error────▶ REFUSED_LATE
      │               └────close────▶ LOST
      ├──deadline──▶ EXPIRED
      └──close─────▶ DROPPED

The deadline of SENT begins with the sending; that of QUEUED is the call's time to live.
After TIMED_OUT and LOST the effect is unknown; EXPIRED and DROPPED were never sent.
"""

from collections.abc import Mapping
from enum import StrEnum

from csms.errors import OurFault


class CallState(StrEnum):
    QUEUED = "queued"
    SENT = "sent"
    ANSWERED = "answered"
    REFUSED = "refused"
    TIMED_OUT = "timed_out"
    ANSWERED_LATE = "answered_late"
    REFUSED_LATE = "refused_late"
    EXPIRED = "expired"
    DROPPED = "dropped"
    LOST = "lost"


class CallEvent(StrEnum):
    SEND = "send"
    RESULT = "result"
    ERROR = "error"
    DEADLINE = "deadline"
    CLOSE = "close"


TRANSITIONS: Mapping[tuple[CallState, CallEvent], CallState] = {
    (CallState.QUEUED, CallEvent.SEND): CallState.SENT,
    (CallState.QUEUED, CallEvent.DEADLINE): CallState.EXPIRED,
    (CallState.QUEUED, CallEvent.CLOSE): CallState.DROPPED,
    (CallState.SENT, CallEvent.RESULT): CallState.ANSWERED,
    (CallState.SENT, CallEvent.ERROR): CallState.REFUSED,
    (CallState.SENT, CallEvent.DEADLINE): CallState.TIMED_OUT,
    (CallState.SENT, CallEvent.CLOSE): CallState.LOST,
    (CallState.TIMED_OUT, CallEvent.RESULT): CallState.ANSWERED_LATE,
    (CallState.TIMED_OUT, CallEvent.ERROR): CallState.REFUSED_LATE,
}
"""What is absent does not happen: such an answer is a duplicate or belongs to nobody."""


def allowed(state: CallState, event: CallEvent) -> bool:
    """Whether `event` may come in `state`."""
    return (state, event) in TRANSITIONS


def after(state: CallState, event: CallEvent) -> CallState:
    """The state that `event` leads to. Raises OurFault when there is none."""
    try:
        return TRANSITIONS[state, event]
    except KeyError:
        raise OurFault(f"a call that is {state} cannot take the event {event}") from None
