"""Error codes of CALLERROR, one neutral name for each, spelled as each version wants it.

OCPP-J 1.6 froze two odd spellings (`FormationViolation`, `OccurenceConstraintViolation`);
2.x has `FormatViolation` and two r's. Inbound both are understood in every version.
"""

from collections.abc import Mapping
from enum import StrEnum

from csms.ocpp.version import Version


class Fault(StrEnum):
    """The value is the spelling of OCPP 2.x."""

    NOT_IMPLEMENTED = "NotImplemented"
    """The action is not known at all."""
    NOT_SUPPORTED = "NotSupported"
    """The action is one of the standard, but we do not do it."""
    INTERNAL = "InternalError"
    PROTOCOL = "ProtocolError"
    SECURITY = "SecurityError"
    FORMAT = "FormatViolation"
    PROPERTY = "PropertyConstraintViolation"
    OCCURRENCE = "OccurrenceConstraintViolation"
    TYPE = "TypeConstraintViolation"
    GENERIC = "GenericError"
    MESSAGE_TYPE = "MessageTypeNotSupported"
    FRAMEWORK = "RpcFrameworkError"

    def wire(self, version: Version) -> str:
        """The code as `version` spells it; what 1.6 lacks becomes its nearest code."""
        return _SPELLED_16.get(self, self.value) if version is Version.OCPP16 else self.value

    @classmethod
    def read(cls, code: str) -> "Fault":
        """The fault of a code that a station sent, in either spelling; GENERIC for any other."""
        return _READ.get(code.strip().lower(), cls.GENERIC)


_SPELLED_16: Mapping[Fault, str] = {
    Fault.FORMAT: "FormationViolation",
    Fault.OCCURRENCE: "OccurenceConstraintViolation",
    Fault.MESSAGE_TYPE: "GenericError",
    Fault.FRAMEWORK: "FormationViolation",
}

_READ: Mapping[str, Fault] = {
    **{fault.value.lower(): fault for fault in Fault},
    "formationviolation": Fault.FORMAT,
    "occurenceconstraintviolation": Fault.OCCURRENCE,
}
