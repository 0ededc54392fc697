import pytest

from csms.documents.language import Language, check_language
from csms.errors import InvalidInput


def test_a_code_is_a_language() -> None:
    assert check_language("language", "nb") is Language.NORWEGIAN


@pytest.mark.parametrize("wrong", ["no", "DE", "", "english"])
def test_another_is_refused_with_what_there_is(wrong: str) -> None:
    with pytest.raises(InvalidInput, match=r"language: .* nb \(Norwegian\)"):
        check_language("language", wrong)


def test_every_language_has_a_region() -> None:
    assert {language.region for language in Language} == {"DE", "GB", "NO", "SE", "NL", "FR"}
