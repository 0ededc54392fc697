import pytest

from csms.metering.signed.curves import OIDS, SUPPORTED, curve_of


@pytest.mark.parametrize(
    ("algorithm", "curve"),
    [
        ("ECDSA-secp192k1-SHA256", "secp192k1"),
        ("ECDSA-brainpool256r1-SHA256", "brainpoolP256r1"),
        ("ECDSA-brainpoolP384r1-SHA256", "brainpoolP384r1"),
        ("ECDSA-prime256v1-SHA256", "secp256r1"),
        ("RSA-2048-SHA256", None),
        ("ECDSA-secp256r1-SHA1", None),
        ("ECDSA-curve25519-SHA256", None),
        ("", None),
    ],
)
def test_the_curve_of_an_algorithm(algorithm: str, curve: str | None) -> None:
    assert curve_of(algorithm) == curve


def test_all_but_one_of_the_standards_curves_are_here() -> None:
    assert set(OIDS.values()) - set(SUPPORTED) == {"secp192k1"}
    assert {curve().name for curve in SUPPORTED.values()} == set(SUPPORTED)
