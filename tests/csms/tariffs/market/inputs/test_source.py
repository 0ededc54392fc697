"""Kinds of sources are told apart by their word."""

import pytest

from csms.errors import InvalidInput
from csms.tariffs.market.inputs import SOURCES, parse_source


def test_each_kind_is_read() -> None:
    settings: dict[str, dict[str, object]] = {
        "folder": {"kind": "folder", "path": "mill"},
        "url": {"kind": "url", "url": "https://prices.example/day"},
    }
    assert {source.kind for source in SOURCES} == set(settings)
    for kind, fields in settings.items():
        assert parse_source(fields, "source").kind == kind


@pytest.mark.parametrize("settings", [{}, {"kind": 3}, {"kind": "pigeon"}])
def test_other_words_are_refused(settings: dict[str, object]) -> None:
    with pytest.raises(InvalidInput, match=r"source\.kind: must be one of folder, url"):
        parse_source(settings, "source")
