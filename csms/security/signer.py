"""Who signs what stations ask for: our own authority, or an outside one behind the same words."""

from collections.abc import Sequence
from typing import Protocol

from csms.clock import Clock
from csms.security.authority import Issued, LocalAuthority, read_request


class Signer(Protocol):
    """Raises InvalidInput (`csr`) when it will not sign."""

    async def sign(self, csr: str, names: Sequence[str]) -> Issued: ...


class LocalSigner:
    """Our own authority."""

    def __init__(self, authority: LocalAuthority, organization: str, clock: Clock) -> None:
        self._authority = authority
        self._organization = organization
        self._clock = clock

    async def sign(self, csr: str, names: Sequence[str]) -> Issued:
        """The chain for a station that goes by `names`."""
        request = read_request(csr, names)
        return self._authority.station(request, self._organization, self._clock.now())
