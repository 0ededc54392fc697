import base64

import pytest
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from csms.errors import InvalidInput
from csms.metering.signed.public_key import read_key
from tests.csms.metering.signed.meter import Meter


def test_one_key_in_all_its_spellings() -> None:
    key = Meter().key
    text = f"oca:base16:asn1:{key.hex}"
    body = base64.encodebytes(key.der).decode()
    spellings = [
        key.hex,
        key.hex.lower(),
        " ".join((key.hex[:20], key.hex[20:])),
        base64.b64encode(key.der).decode(),
        text,
        base64.b64encode(text.encode()).decode(),
        f"-----BEGIN PUBLIC KEY-----\n{body}-----END PUBLIC KEY-----\n",
    ]
    assert {read_key(spelling) for spelling in spellings} == {key}
    assert (key.curve, key.supported, len(key.fingerprint)) == ("secp256r1", True, 64)


def test_a_key_on_a_curve_that_is_not_here_is_known_for_what_it_is() -> None:
    """The object identifier of secp192k1 (SEC 2) in an OCMF test vector's key."""
    text = (
        "3046301006072A8648CE3D020106052B8104001F033200044181F41532330EB91E3FF3E712AAA7C431BC58A932F5A93B5392"
    )
    key = read_key(f"{text}B2D1F3A57964B79579C29929054F692D8DE627B8EB6D")
    assert (key.curve, key.supported, key.load()) == ("secp192k1", False, None)


def broken() -> list[str]:
    key = Meter().key
    other = rsa.generate_private_key(65537, 1024).public_key()
    off = bytearray(key.der)
    off[-1] ^= 1
    return [
        "",
        "no key",
        "30",
        key.hex[:-4],
        f"{key.hex}00",
        key.hex[54:],
        off.hex(),
        other.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo).hex(),
        "30" * 3000,
    ]


@pytest.mark.parametrize("text", broken())
def test_what_is_no_key_is_refused(text: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        read_key(text, "key")
    assert refused.value.field == "key"
