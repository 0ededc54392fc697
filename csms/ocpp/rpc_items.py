"""What comes out of one connection's engine: the items, the counts, the limits."""

from dataclasses import dataclass, field
from typing import Any

from csms.ocpp.actions import ABOUT_TRANSACTIONS
from csms.ocpp.call_state import CallState
from csms.ocpp.faults import Fault
from csms.ocpp.schemas import Violation


@dataclass(frozen=True, slots=True, eq=False)
class InboundCall:
    """A request of the station, to be given back to `Rpc.answer` or `Rpc.refuse`.

    `deviations` says what was odd or put right. `violations` is empty but for messages about
    transactions: those come through however broken they are, and are answered with a result.
    """

    id: str
    action: str
    payload: dict[str, Any]
    deviations: tuple[str, ...] = ()
    violations: tuple[Violation, ...] = ()

    @property
    def about_transaction(self) -> bool:
        return self.action in ABOUT_TRANSACTIONS


@dataclass(frozen=True, slots=True)
class InboundSend:
    """A message that wants no answer (OCPP 2.1)."""

    id: str
    action: str
    payload: dict[str, Any]
    deviations: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CallSent:
    """A call of ours left the queue; its deadline runs."""

    id: str


@dataclass(frozen=True, slots=True)
class CallEnded:
    """A call of ours ended, or was answered after it had timed out.

    ANSWERED(_LATE): `payload` is what came, `violations` what is wrong with it even so.
    REFUSED(_LATE): `code` as the station spelled it, and `text`.
    """

    id: str
    action: str
    state: CallState
    payload: dict[str, Any] = field(default_factory=dict)
    deviations: tuple[str, ...] = ()
    violations: tuple[Violation, ...] = ()
    code: str = ""
    text: str = ""


@dataclass(frozen=True, slots=True)
class Unusable:
    """A text that did not become a call for the caller; worth keeping with its reason.

    `malformed`: it was no frame at all, which counts as garbage. `answered`: an error went back.
    """

    problem: str
    fault: Fault
    malformed: bool
    answered: bool


Item = InboundCall | InboundSend | CallSent | CallEnded | Unusable


@dataclass(slots=True)
class Step:
    """What one input led to: items for the caller and texts for the socket, both in order."""

    items: list[Item] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Counts:
    """How this connection behaved so far. `silent_in_a_row`: timeouts since the last answer."""

    received: int = 0
    malformed: int = 0
    refused: int = 0
    deviating: int = 0
    repeated: int = 0
    duplicate_answers: int = 0
    foreign_answers: int = 0
    late_answers: int = 0
    timeouts: int = 0
    silent_in_a_row: int = 0
