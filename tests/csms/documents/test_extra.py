import sys

import pytest

from csms.documents.extra import library
from csms.errors import InvalidInput


def test_what_is_there_is_given() -> None:
    assert library("json").dumps([1]) == "[1]"


def test_what_is_missing_is_named_with_the_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(InvalidInput, match=r"need the library typst: install phaseyard\[statements\]"):
        library("typst")
