"""Prices as lines: separators, units, and every fault with its line."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from csms.errors import InvalidInput
from csms.tariffs.market.csv_prices import parse_csv
from csms.tariffs.market.feed import Feed

MakeFeed = Callable[..., Feed]

PLAIN = """timestamp,price,unit
2026-01-15T00:00:00+01:00,80.00,EUR/MWh
2026-01-15T01:00:00+01:00,-1.2,EUR/MWh
"""


def test_plain(feed: MakeFeed) -> None:
    read = parse_csv(PLAIN.encode(), feed())
    start = datetime(2026, 1, 14, 23, tzinfo=UTC)
    assert [(p.start, p.end, p.per_mwh) for p in read.prices] == [
        (start, start + timedelta(hours=1), Decimal("80.00")),
        (start + timedelta(hours=1), start + timedelta(hours=2), Decimal("-1.2")),
    ]
    assert (read.mrid, read.revision, read.created_at) == (None, 1, None)


@pytest.mark.parametrize(
    "text",
    [
        "Timestamp;Price;Unit;note\n2026-01-15T00:00Z;0,0801;EUR/kWh;\n2026-01-15T00:15Z;0,0002;EUR/kWh;x\n",
        "\ufefftimestamp\tprice\tunit\r\n2026-01-15T00:15:00Z\t0.2\tEUR/MWH\r\n"
        "\r\n2026-01-15T00:00:00Z\t80.1\tEUR/MWh\r\n",
        'unit,"price",timestamp\nEUR/MWh,"80.1",2026-01-15T01:00+01:00\nEUR/MWh,.2,2026-01-15 00:15+00:00',
    ],
)
def test_as_programs_write_it(feed: MakeFeed, text: str) -> None:
    read = parse_csv(text.encode(), feed())
    assert [(f"{p.start:%H:%M}", p.per_mwh) for p in read.prices] == [
        ("00:00", Decimal("80.1")),
        ("00:15", Decimal("0.2")),
    ]


def test_the_hour_shown_twice_is_two_hours(feed: MakeFeed) -> None:
    """25 October 2026, 02:00 in Brussels comes twice, with two offsets (Directive 2000/84/EC)."""
    text = "timestamp,price,unit\n" + "".join(
        f"2026-10-25T0{hour}:00:00+0{offset}:00,{price},EUR/MWh\n"
        for hour, offset, price in ((1, 2, 5), (2, 2, 6), (2, 1, 7), (3, 1, 8))
    )
    read = parse_csv(text.encode(), feed())
    assert [p.start.hour for p in read.prices] == [23, 0, 1, 2]
    assert [int(p.per_mwh) for p in read.prices] == [5, 6, 7, 8]


def test_one_price_needs_to_know_how_long_it_holds(feed: MakeFeed) -> None:
    one = "\n".join(PLAIN.splitlines()[:2]).encode()
    with pytest.raises(InvalidInput, match="document: has one price only"):
        parse_csv(one, feed())
    (price,) = parse_csv(one, feed(minutes=30)).prices
    assert price.end - price.start == timedelta(minutes=30)


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        (("timestamp", "time"), "line 1: must head the columns timestamp, price, unit; timestamp is missing"),
        (("price,unit", "price,unit,price"), "line 1: the heading has a column twice"),
        ((",EUR/MWh\n2026", "\n2026"), "line 2: has 2 columns, the heading 3"),
        (("80.00", "eighty"), "line 2, price: must be a number, is 'eighty'"),
        (("-1.2", ""), "line 3, price: must be a number, is ''"),
        (("+01:00,80", ",80"), "line 2: timestamp 2026-01-15T00:00:00 needs its offset from UTC"),
        (("2026-01-15T00:00:00+01:00", "15.01.2026 00:00"), "line 2: timestamp must be such as"),
        (("2026-01-15T00:00:00+01:00", "0001-01-01T00:00+14:00"), "line 2: timestamp must be such as"),
        (("EUR/MWh\n2026", "XXX/MWh\n2026"), "line 2: unit: 'XXX' is not an ISO 4217 code"),
        (("EUR/MWh\n2026", "SEK/MWh\n2026"), "line 2: unit: the price is in SEK, but the feed is in EUR"),
        (("EUR/MWh\n2026", "EUR/GJ\n2026"), "line 2: unit must be such as EUR/MWh or EUR/kWh, is 'EUR/GJ'"),
        (("T01:00:00", "T00:00:00"), "line 3: a second price for 2026-01-14T23:00:00Z"),
        (("T01:00:00", "T00:20:00"), "document: prices are 20 minutes apart, not 15 or 30 or 60"),
        (("80.00", '"80.00'), "line 3: not CSV"),
    ],
)
def test_what_is_wrong_is_named_with_its_line(feed: MakeFeed, change: tuple[str, str], problem: str) -> None:
    text = PLAIN.replace(*change, 1)
    assert text != PLAIN
    with pytest.raises(InvalidInput) as caught:
        parse_csv(text.encode(), feed())
    assert str(caught.value).startswith(problem)


def test_a_gap_is_told_with_its_line(feed: MakeFeed) -> None:
    text = PLAIN + "2026-01-15T03:00:00+01:00,7,EUR/MWh\n"
    with pytest.raises(InvalidInput) as caught:
        parse_csv(text.encode(), feed())
    assert str(caught.value) == (
        "line 4: begins at 2026-01-15T02:00:00Z, but the one before ends at 2026-01-15T01:00:00Z; "
        "a document with a gap is not taken"
    )


@pytest.mark.parametrize("raw", [b"", b"timestamp,price,unit\n", b"\n\n"])
def test_nothing_in_it(feed: MakeFeed, raw: bytes) -> None:
    with pytest.raises(InvalidInput, match="document: holds no price"):
        parse_csv(raw, feed())


def test_not_text(feed: MakeFeed) -> None:
    with pytest.raises(InvalidInput, match="line 2: is not UTF-8 text"):
        parse_csv(b"timestamp,price,unit\n\xff", feed())
