"""What the check says of a site: something wrong, something to look at, something to know."""

from dataclasses import dataclass
from enum import StrEnum

from csms.sitefile.description import Description
from csms.sitefile.places import Fault, Place


class Severity(StrEnum):
    """Only a fault makes a site unsafe."""

    FAULT = "fault"
    HINT = "hint"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Finding:
    """`text` at `place`; `path` names what it is about."""

    severity: Severity
    place: Place
    path: str
    text: str


def faulty(fault: Fault) -> Finding:
    """What is wrong with the file's writing, as a finding."""
    return Finding(Severity.FAULT, fault.place, fault.path, fault.problem)


def at_circuit(severity: Severity, description: Description, circuit_id: str, key: str, text: str) -> Finding:
    """About a circuit, or one of its values."""
    path, place = description.of_circuit(circuit_id, key)
    return Finding(severity, place, path, text)


def at_station(severity: Severity, description: Description, station_id: str, key: str, text: str) -> Finding:
    """About a station, or one of its values."""
    path, place = description.of_station(station_id, key)
    return Finding(severity, place, path, text)
