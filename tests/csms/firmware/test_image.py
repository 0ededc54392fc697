"""What an image has to be."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from csms.errors import InvalidInput
from csms.firmware.image import Image, check_image, check_sha256
from csms.security.authority import LocalAuthority

NOW = datetime(2026, 11, 2, tzinfo=UTC)
IMAGE = Image(id="weft-2", version=" 2.0 ", created_at=NOW)
PEM = LocalAuthority.make("Weir", NOW).root_pem


def test_texts_in_their_final_form() -> None:
    checked = check_image(IMAGE)
    assert (checked.version, checked.signed, checked.complete) == ("2.0", False, False)
    assert check_image(replace(IMAGE, signature="c2lnbmVk", signing_certificate=PEM)).signed


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"version": "  "}, "version"),
        ({"model": "x\ny"}, "model"),
        ({"vendor": "x" * 121}, "vendor"),
        ({"signature": "c2lnbmVk"}, "signature"),
        ({"signature": "%%%", "signing_certificate": PEM}, "signature"),
        ({"signature": "c2lnbmVk", "signing_certificate": "nonsense"}, "signing_certificate"),
        ({"signature": "c2lnbmVk", "signing_certificate": "x" * 5501}, "signing_certificate"),
        ({"id": "a b/c"}, "id"),
    ],
)
def test_what_is_wrong_is_named(wrong: dict[str, str], field: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        check_image(replace(IMAGE, **wrong))  # type: ignore[arg-type]
    assert caught.value.field == field


def test_a_checksum_is_64_digits() -> None:
    assert check_sha256("sha256", "AB" * 32) == "ab" * 32
    with pytest.raises(InvalidInput, match="64 digits"):
        check_sha256("sha256", "ab")
