"""Findings stand where the file has what they are about."""

from csms.sitefile.findings import Finding, Severity, at_circuit, at_station, faulty
from csms.sitefile.places import Fault, Place
from tests.csms.sitefile.conftest import Describe


def test_findings_point_into_the_file(describe: Describe) -> None:
    found = describe(["id: main, limit_a: 63"], ["identity: B1, circuit: main"])
    assert at_circuit(Severity.HINT, found, "main", "limit_a.L2", "x") == Finding(
        Severity.HINT, Place(3, 25), "circuits[0].limit_a.L2", "x"
    )
    assert at_station(Severity.NOTE, found, "B1", "wiring", "y") == Finding(
        Severity.NOTE, Place(5, 5), "stations[0].wiring", "y"
    )
    assert faulty(Fault(Place(1, 2), "site", "z")) == Finding(Severity.FAULT, Place(1, 2), "site", "z")
