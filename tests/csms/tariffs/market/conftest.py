"""A feed, and day-ahead documents written as briefly as a test can say them."""

from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from typing import Any

import pytest

from csms.money import Currency
from csms.tariffs.market.feed import Feed

MADE = datetime(2026, 1, 1, tzinfo=UTC)


def feed_of(**fields: Any) -> Feed:
    return Feed(
        **{"id": "mill", "name": "The mill's", "currency": Currency("EUR"), "created_at": MADE, **fields}
    )


def series_of(
    *points: tuple[int, str],
    start: str = "2026-01-14T23:00Z",
    end: str = "2026-01-15T00:30Z",
    resolution: str = "PT15M",
    curve: str = "A03",
    area: str = "10YBE----------2",
    sequence: int | None = None,
    currency: str = "EUR",
    unit: str = "MWH",
) -> str:
    """A TimeSeries with one Period."""
    listed = "".join(
        f"<Point>\n<position>{position}</position><price.amount>{price}</price.amount></Point>\n"
        for position, price in points
    )
    order = "classificationSequence_AttributeInstanceComponent.position"
    return (
        f"<TimeSeries><in_Domain.mRID>{area}</in_Domain.mRID>\n"
        "<contract_MarketAgreement.type>A01</contract_MarketAgreement.type>"
        f"<currency_Unit.name>{currency}</currency_Unit.name>"
        f"<price_Measure_Unit.name>{unit}</price_Measure_Unit.name>\n"
        + (f"<{order}>{sequence}</{order}>" if sequence is not None else "")
        + f"<curveType>{curve}</curveType>\n<Period><timeInterval><start>{start}</start><end>{end}</end>"
        f"</timeInterval><resolution>{resolution}</resolution>\n{listed}</Period></TimeSeries>\n"
    )


def document_of(
    *series: str, mrid: str = "M1", revision: int = 1, made: str = "2026-01-14T12:00:00Z"
) -> bytes:
    return (
        '<Publication_MarketDocument xmlns="urn:iec62325.351:tc57wg16:451-3:publicationdocument:7:3">\n'
        f"<mRID>{mrid}</mRID><revisionNumber>{revision}</revisionNumber><type>A44</type>\n"
        f"<createdDateTime>{made}</createdDateTime>\n{''.join(series)}</Publication_MarketDocument>"
    ).encode()


@pytest.fixture
def feed() -> Callable[..., Feed]:
    return feed_of


@pytest.fixture
def series() -> Callable[..., str]:
    return series_of


@pytest.fixture
def document() -> Callable[..., bytes]:
    return document_of


@pytest.fixture
def day() -> Callable[..., bytes]:
    """A document of one market day: `(start, end, prices)` in quarter hours, all positions told."""

    def made(start: str, end: str, prices: Iterable[str], **fields: Any) -> bytes:
        points = [(i, price) for i, price in enumerate(prices, start=1)]
        return document_of(series_of(*points, start=start, end=end, curve="A01"), **fields)

    return made
