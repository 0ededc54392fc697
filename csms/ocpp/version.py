"""The protocol versions we speak, by the names of their WebSocket subprotocols."""

from enum import StrEnum


class Version(StrEnum):
    """An OCPP version; the value is what people write."""

    OCPP16 = "1.6"
    OCPP201 = "2.0.1"
    OCPP21 = "2.1"

    @property
    def subprotocol(self) -> str:
        """The registered WebSocket subprotocol name, e.g. `ocpp2.0.1`."""
        return f"ocpp{self.value}"

    @property
    def compresses(self) -> bool:
        """Whether the central system must support permessage-deflate (OCPP-J 2.x; not in 1.6)."""
        return self is not Version.OCPP16

    @classmethod
    def of_subprotocol(cls, name: str) -> "Version | None":
        """The version of a subprotocol name in any case, None when there is none."""
        return _BY_SUBPROTOCOL.get(name.strip().lower())


_BY_SUBPROTOCOL = {version.subprotocol: version for version in Version}
