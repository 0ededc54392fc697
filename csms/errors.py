"""Every exception that Phaseyard raises on purpose.

PhaseyardError
├── InvalidInput        the caller's value is wrong: which field, and what to do
│   └── ManyInvalid         several are, all named
├── NotFound            a thing that was named does not exist
├── Conflict            the request is sound but the present state forbids it
├── StationError        a station could not be asked
│   ├── StationOffline      no socket
│   └── StationSilent       it did not answer in time; the effect is unknown
├── MeterFault          a building meter cannot be read now; it is tried again
├── MessageFault        a message could not be sent now; it is tried again
└── OurFault            a bug on our side, e.g. an outgoing message that breaks the standard

Refusals of every day (a card that may not charge, a car that waits) are outcomes with a
reason, not exceptions. HTTP and OCPP codes are chosen at the edges.
"""

from collections.abc import Iterable


class PhaseyardError(Exception):
    """Root of the tree; `code` is stable and meant for machines."""

    code = "error"


class InvalidInput(PhaseyardError):
    """A value given to us is wrong. `field` is its path, `problem` says what to do about it."""

    code = "invalid-input"

    def __init__(self, field: str, problem: str) -> None:
        super().__init__(field, problem)
        self.field = field
        self.problem = problem

    def __str__(self) -> str:
        return f"{self.field}: {self.problem}"


class ManyInvalid(InvalidInput):
    """Several values are wrong: (field, problem) of each, at least one. As one value it is the first."""

    code = "many-invalid"

    def __init__(self, faults: Iterable[tuple[str, str]]) -> None:
        self.faults = tuple(faults)
        super().__init__(*self.faults[0])


class NotFound(PhaseyardError):
    """`kind` names the sort of thing, `key` the one that was asked for."""

    code = "not-found"

    def __init__(self, kind: str, key: object) -> None:
        super().__init__(kind, key)
        self.kind = kind
        self.key = key

    def __str__(self) -> str:
        return f"there is no {self.kind} {self.key!s}"


class Conflict(PhaseyardError):
    """The present state forbids what was asked."""

    code = "conflict"

    def __init__(self, problem: str) -> None:
        super().__init__(problem)
        self.problem = problem


class StationError(PhaseyardError):
    """A station could not be asked."""

    code = "station"

    def __init__(self, station_id: str) -> None:
        super().__init__(station_id)
        self.station_id = station_id


class StationOffline(StationError):
    """The station has no connection to us; nothing was sent."""

    code = "station-offline"

    def __str__(self) -> str:
        return f"station {self.station_id} is not connected"


class StationSilent(StationError):
    """The station did not answer in time: whether it acted is unknown."""

    code = "station-silent"

    def __str__(self) -> str:
        return f"station {self.station_id} did not answer in time; whether it acted is unknown"


class MeterFault(PhaseyardError):
    """A building meter cannot be read now; the text is for people. It is tried again."""

    code = "meter"


class MessageFault(PhaseyardError):
    """A message could not be sent now; the text is for people. It is tried again."""

    code = "message"


class OurFault(PhaseyardError):
    """We are wrong, not the peer."""

    code = "our-fault"
