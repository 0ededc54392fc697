"""ISO 13616: check digits by ISO 7064 MOD 97-10."""

import pytest

from csms.documents.iban import is_iban


@pytest.mark.parametrize(
    "sound",
    [
        # Examples of the IBAN registry (SWIFT), from memory; each also passes the check digits.
        "DE89370400440532013000",
        "NO9386011117947",
        "SE4550000000058398257466",
        "NL91ABNA0417164300",
        "FR1420041010050500013M02606",
        "GB29NWBK60161331926819",
    ],
)
def test_examples_of_the_registry(sound: str) -> None:
    assert is_iban(sound)


@pytest.mark.parametrize(
    "wrong", ["DE88370400440532013000", "DE89 3704", "", "1234.56.78903", "de89370400440532013000"]
)
def test_others(wrong: str) -> None:
    assert not is_iban(wrong)
