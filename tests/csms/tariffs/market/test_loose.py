"""Files beside a command."""

from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from csms.errors import InvalidInput
from csms.money import Currency
from csms.tariffs.market.loose import loose_market

EUR = Currency("EUR")


def test_several_files_and_the_later_revision(
    series: Callable[..., str], document: Callable[..., bytes]
) -> None:
    first = document(series((1, "5")), revision=1)
    second = document(series((1, "6")), revision=2)
    next_hour = document(series((1, "7"), start="2026-01-15T00:30Z", end="2026-01-15T01:00Z"), mrid="M2")
    market = loose_market(["a", "b"], EUR, [("2", second), ("1", first), ("3", next_hour)])
    assert set(market) == {"a", "b"}
    assert [int(price.per_mwh) for price in market["a"].prices] == [6] * 6 + [7] * 2
    assert market["b"].at(datetime(2026, 1, 14, 22, tzinfo=UTC)) is None


def test_the_file_is_named(series: Callable[..., str], document: Callable[..., bytes]) -> None:
    with pytest.raises(InvalidInput, match=r"day\.csv, document: holds no price"):
        loose_market(["a"], EUR, [("day.csv", b"\n,")])
    with pytest.raises(InvalidInput, match=r"day\.xml, area: the feed wants X"):
        loose_market(["a"], EUR, [("day.xml", document(series((1, "5"))))], area="X")
