"""Spellings as the package `ocpp` has them in its exceptions, and as OCPP-J 1.6 errata §5 froze them."""

import inspect

import ocpp.exceptions
import pytest

from csms.ocpp.faults import Fault
from csms.ocpp.version import Version


def test_codes_of_2x_are_those_of_the_reference_package() -> None:
    theirs = {
        error.code
        for _, error in inspect.getmembers(ocpp.exceptions, inspect.isclass)
        if issubclass(error, ocpp.exceptions.OCPPError) and hasattr(error, "code")
    }
    ours = {fault.wire(Version.OCPP201) for fault in Fault}
    # These two are in OCPP 2.0.1 part 4 §4.3; the package does not know them.
    assert ours - theirs == {"MessageTypeNotSupported", "RpcFrameworkError"}


@pytest.mark.parametrize(
    ("fault", "code"),
    [
        (Fault.FORMAT, "FormationViolation"),
        (Fault.OCCURRENCE, "OccurenceConstraintViolation"),
        (Fault.PROPERTY, "PropertyConstraintViolation"),
        (Fault.NOT_IMPLEMENTED, "NotImplemented"),
        (Fault.FRAMEWORK, "FormationViolation"),
        (Fault.MESSAGE_TYPE, "GenericError"),
    ],
)
def test_1_6_has_its_own_spellings(fault: Fault, code: str) -> None:
    assert fault.wire(Version.OCPP16) == code


@pytest.mark.parametrize("version", Version)
@pytest.mark.parametrize("fault", Fault)
def test_what_we_write_in_1_6_exists_there(fault: Fault, version: Version) -> None:
    # OCPP-J 1.6 table 7
    in_16 = {
        "NotImplemented",
        "NotSupported",
        "InternalError",
        "ProtocolError",
        "SecurityError",
        "FormationViolation",
        "PropertyConstraintViolation",
        "OccurenceConstraintViolation",
        "TypeConstraintViolation",
        "GenericError",
    }
    assert version is not Version.OCPP16 or fault.wire(version) in in_16


@pytest.mark.parametrize(
    ("code", "fault"),
    [
        ("OccurenceConstraintViolation", Fault.OCCURRENCE),
        ("OccurrenceConstraintViolation", Fault.OCCURRENCE),
        ("FormationViolation", Fault.FORMAT),
        ("formatviolation", Fault.FORMAT),
        ("Whatever", Fault.GENERIC),
        ("", Fault.GENERIC),
    ],
)
def test_both_spellings_are_read(code: str, fault: Fault) -> None:
    assert Fault.read(code) is fault
