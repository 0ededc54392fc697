"""Day-ahead documents: what is chosen, what is repeated, and what is refused.

The whole published document is in tests/published/test_day_ahead.
"""

from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from csms.errors import InvalidInput
from csms.tariffs.market.a44 import parse_a44
from csms.tariffs.market.document import PriceDocument
from csms.tariffs.market.feed import Feed

MakeFeed = Callable[..., Feed]
MakeSeries = Callable[..., str]
MakeDocument = Callable[..., bytes]

SIX = [(i, f"{10 * i}.50") for i in range(1, 7)]


def brief(document: PriceDocument) -> list[str]:
    return [f"{price.per_mwh:f}" for price in document.prices]


def test_a_document(feed: MakeFeed, series: MakeSeries, document: MakeDocument) -> None:
    read = parse_a44(document(series(*SIX, curve="A01"), revision=3), feed())
    assert brief(read) == ["10.50", "20.50", "30.50", "40.50", "50.50", "60.50"]
    assert (read.mrid, read.revision, read.area) == ("M1", 3, "10YBE----------2")
    assert read.created_at == datetime(2026, 1, 14, 12, tzinfo=UTC)
    assert (read.start, read.end) == (
        datetime(2026, 1, 14, 23, tzinfo=UTC),
        datetime(2026, 1, 15, 0, 30, tzinfo=UTC),
    )


def test_a03_repeats_also_up_to_the_end(feed: MakeFeed, series: MakeSeries, document: MakeDocument) -> None:
    read = parse_a44(document(series((1, "5"), (4, "-7.25"))), feed())
    assert brief(read) == ["5", "5", "5", "-7.25", "-7.25", "-7.25"]


def test_the_finest_resolution_whatever_the_order(
    feed: MakeFeed, series: MakeSeries, document: MakeDocument
) -> None:
    hours = series((1, "60"), resolution="PT60M", end="2026-01-15T00:00Z")
    quarters = series(*SIX)
    for told in ((hours, quarters), (quarters, hours)):
        assert len(brief(parse_a44(document(*told), feed()))) == 6
        assert brief(parse_a44(document(*told), feed(minutes=60))) == ["60"]


def test_the_sequence_before_the_resolution(
    feed: MakeFeed, series: MakeSeries, document: MakeDocument
) -> None:
    """Two auctions of a day: the first one is meant, also where the second is finer or comes first."""
    first = series((1, "60"), resolution="PT60M", end="2026-01-15T00:00Z", sequence=1)
    second = series(*SIX, sequence=2)
    for told in ((first, second), (second, first)):
        assert brief(parse_a44(document(*told), feed())) == ["60"]
        assert len(brief(parse_a44(document(*told), feed(sequence=2)))) == 6
    with pytest.raises(InvalidInput, match="sequence: the feed wants 3, but the document has 1, 2"):
        parse_a44(document(first, second), feed(sequence=3))


def test_the_area_is_the_feed_s(feed: MakeFeed, series: MakeSeries, document: MakeDocument) -> None:
    told = document(series(*SIX), series((1, "1"), area="10YNL----------L"))
    assert brief(parse_a44(told, feed(area="10YNL----------L")))[0] == "1"
    with pytest.raises(InvalidInput, match="area: the document has prices of 10YBE----------2, 10YNL"):
        parse_a44(told, feed())
    with pytest.raises(InvalidInput, match="area: the feed wants 10YNO-1"):
        parse_a44(told, feed(area="10YNO-1--------2"))


def test_periods_of_one_series_follow_each_other(
    feed: MakeFeed, series: MakeSeries, document: MakeDocument
) -> None:
    later = series((1, "9"), start="2026-01-15T00:30Z", end="2026-01-15T01:00Z")
    assert brief(parse_a44(document(later, series((1, "8"))), feed())) == ["8"] * 6 + ["9"] * 2
    gap = series((1, "9"), start="2026-01-15T00:45Z", end="2026-01-15T01:00Z")
    with pytest.raises(InvalidInput, match="no price from 2026-01-15T00:30:00Z to 2026-01-15T00:45:00Z"):
        parse_a44(document(series((1, "8")), gap), feed())
    overlap = series((1, "9"), start="2026-01-15T00:15Z", end="2026-01-15T01:00Z")
    with pytest.raises(InvalidInput, match="two prices for 2026-01-15T00:15:00Z"):
        parse_a44(document(series((1, "8")), overlap), feed())


@pytest.mark.parametrize(
    ("start", "end", "quarters"),
    [
        ("2026-03-28T23:00Z", "2026-03-29T22:00Z", 92),
        ("2026-01-14T23:00Z", "2026-01-15T23:00Z", 96),
        ("2026-10-24T22:00Z", "2026-10-25T23:00Z", 100),
    ],
)
def test_market_days(
    feed: MakeFeed, series: MakeSeries, document: MakeDocument, start: str, end: str, quarters: int
) -> None:
    """Days of 23, 24 and 25 hours: the interval says how many positions there are."""
    every = [(i, str(i)) for i in range(1, quarters + 1)]
    read = parse_a44(document(series(*every, start=start, end=end, curve="A01")), feed())
    assert brief(read) == [str(i) for i in range(1, quarters + 1)]
    with pytest.raises(InvalidInput, match=f"position {quarters + 1} is outside the interval, which has"):
        parse_a44(document(series(*every, (quarters + 1, "1"), start=start, end=end, curve="A01")), feed())


@pytest.mark.parametrize(
    ("fields", "points", "problem"),
    [
        ({"curve": "A01"}, SIX[:3] + SIX[4:], "line 7, Period: curve A01 has no point at position 4 of 6"),
        ({}, SIX[1:], "line 7, Period: curve A03 has no point at position 1"),
        ({}, [], "line 7, Period: has no Point"),
        ({}, [(1, "1"), (1, "2")], "line 10, Point: position 1 occurs twice"),
        ({}, [(0, "1")], "line 8, Point: position 0 is outside"),
        ({}, [(1, "cheap")], "line 9, price.amount: must be a number, is 'cheap'"),
        ({}, [(1, "NaN")], "line 9, price.amount: must be a number, is 'NaN'"),
        ({}, [(1, "1E+999999")], "line 9, price.amount: 1E+999999 is no price"),
        ({}, [(1, "0.0000001")], "line 9, price.amount: 0.0000001 has more than 6 decimals"),
        ({"curve": "A02"}, SIX, "line 4, TimeSeries: curveType must be A01 or A03, is 'A02'"),
        ({"unit": "KWH"}, SIX, "line 5, price_Measure_Unit.name: must be MWH, is 'KWH'"),
        ({"currency": "XXX"}, SIX, "line 5, currency_Unit.name: 'XXX' is not an ISO 4217 code"),
        ({"currency": "SEK"}, SIX, "line 5, currency_Unit.name: prices are in SEK, but the feed is in EUR"),
        (
            {"resolution": "P1D"},
            SIX,
            "line 7, resolution: must be one of PT15M, PT30M, PT60M, PT1H",
        ),
        ({"end": "2026-01-15T00:20Z"}, SIX, "line 7, timeInterval: is no whole number of 15 minutes"),
        ({"end": "2026-01-14T23:00Z"}, SIX, "line 7, timeInterval: is no whole number of 15 minutes"),
        ({"end": "2096-01-14T23:00Z"}, SIX, "line 7, timeInterval: has 2454432 intervals"),
        ({"start": "2026-02-30T23:00Z"}, SIX, "line 7, start: must be a time in UTC"),
        ({"start": "2026-01-14T23:00+01:00"}, SIX, "line 7, start: must be a time in UTC"),
        ({"sequence": -1}, SIX, "line 6, classificationSequence"),
    ],
)
def test_what_is_wrong_is_named_with_its_line(
    feed: MakeFeed,
    series: MakeSeries,
    document: MakeDocument,
    fields: dict[str, object],
    points: list[tuple[int, str]],
    problem: str,
) -> None:
    with pytest.raises(InvalidInput) as caught:
        parse_a44(document(series(*points, **fields)), feed())
    assert str(caught.value).startswith(problem)


@pytest.mark.parametrize(
    ("raw", "problem"),
    [
        (b"<GL_MarketDocument/>", "document: must be a Publication_MarketDocument, is GL_MarketDocument"),
        (
            b"<Publication_MarketDocument><type>A65</type></Publication_MarketDocument>",
            "line 1, Publication_MarketDocument: type must be A44",
        ),
        (
            b"<Publication_MarketDocument><type>A44</type></Publication_MarketDocument>",
            "Publication_MarketDocument: has no TimeSeries of a day-ahead market",
        ),
        (
            b"<Acknowledgement_MarketDocument><Reason><code>999</code><text>No matching data found</text>"
            b"</Reason></Acknowledgement_MarketDocument>",
            "document: is an answer without prices: No matching data found",
        ),
    ],
)
def test_other_documents_are_told_apart(feed: MakeFeed, raw: bytes, problem: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        parse_a44(raw, feed())
    assert str(caught.value).startswith(problem)
