"""Our own authority behind the words of any."""

from cryptography import x509

from csms.clock import ManualClock
from csms.security.authority import LocalAuthority
from csms.security.signer import LocalSigner
from tests.csms.security.requests import request


async def test_it_signs_in_the_operators_name(clock: ManualClock) -> None:
    authority = LocalAuthority.make("Weavers' Yard", clock.now())
    issued = await LocalSigner(authority, "Weavers' Yard", clock).sign(request("BAY-01"), ["BAY-01"])
    leaf = x509.load_pem_x509_certificate(issued.chain_pem.encode())
    assert leaf.subject.rfc4514_string() == "O=Weavers' Yard,CN=BAY-01"
