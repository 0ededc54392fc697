"""Documents keep every digit."""

from decimal import Decimal

import pytest

from csms.errors import InvalidInput, OurFault
from csms.tariffs.document import load_json
from csms.tariffs.stored import LONGEST_DOCUMENT, freeze, thaw

WRITTEN = """{"currency": "EUR", "elements": [{"price_components": [
  {"type": "ENERGY", "price": 123456789012345.123, "vat": 20.0, "step_size": 1}]}],
  "tariff_alt_text": [{"language": "en", "text": "0.25 per kWh"}]}"""


def test_a_document_comes_back_with_its_digits() -> None:
    document = load_json(WRITTEN, "tariff")
    assert isinstance(document, dict)
    again, tariff = thaw(freeze(document, "document"), "tar_1")
    assert again == document
    [component] = tariff.components
    # The nearest float is written 123456789012345.12.
    assert component.price == Decimal("123456789012345.123")
    assert str(component.vat_percent) == "20.0"


def test_what_is_too_large_is_refused() -> None:
    deep: object = "end"
    for _ in range(5000):
        deep = [deep]
    for extra in ("x" * LONGEST_DOCUMENT, deep):
        with pytest.raises(InvalidInput) as refused:
            freeze({"tariff_alt_text": extra}, "document")
        assert refused.value.field == "document"


def test_what_is_stored_wrongly_is_named() -> None:
    for text in ("[]", "{", '{"currency": "EUR"}'):
        with pytest.raises(OurFault, match="tariff tar_1"):
            thaw(text, "tar_1")
