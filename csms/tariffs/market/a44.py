"""A day-ahead price document of ENTSO-E read: Publication_MarketDocument of type A44 (IEC 62325-451-3).

Among several time series the area, the sequence and the resolution decide, never the order. Curve type
A01 has a point at every position; in A03 a position that is left out repeats the one before it, also up
to the end of the interval. What is wrong is named with its line, and nothing of the document is taken.
"""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from csms.errors import InvalidInput
from csms.money import Currency
from csms.tariffs.market.document import MOST_INTERVALS, PriceDocument, in_one_piece, price_of
from csms.tariffs.market.feed import Feed
from csms.tariffs.market.series import MarketPrice
from csms.tariffs.market.xml_tree import Node, read_xml

ROOT = "Publication_MarketDocument"
SEQUENCE = "classificationSequence_AttributeInstanceComponent.position"
DAY_AHEAD = "A01"
RESOLUTIONS = {"PT15M": 15, "PT30M": 30, "PT60M": 60, "PT1H": 60}
_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d)?(\.\d{1,6})?Z")


@dataclass(frozen=True, slots=True)
class _Period:
    """A period of a time series, with what chooses among them."""

    node: Node
    series: Node
    area: str | None
    sequence: int
    minutes: int


def parse_a44(raw: bytes, feed: Feed) -> PriceDocument:
    """The prices that are the feed's; InvalidInput names the line and what is wrong there."""
    root = read_xml(raw)
    if root.name == "Acknowledgement_MarketDocument":
        reason = root.find("Reason")
        said = (reason.told("text") if reason is not None else None) or "no reason given"
        raise InvalidInput("document", f"is an answer without prices: {said[:200]}")
    if root.name != ROOT:
        raise InvalidInput("document", f"must be a {ROOT}, is {root.name[:60]}")
    if (kind := root.told("type")) != "A44":
        raise InvalidInput(root.place, f"type must be A44 (prices), is {kind!r}")
    chosen = _choose(_periods(root), feed)
    currencies = {_currency(period.series) for period in chosen}
    if currencies != {feed.currency}:
        told = ", ".join(sorted(currency.code for currency in currencies))
        raise InvalidInput(
            chosen[0].series.need("currency_Unit.name").place,
            f"prices are in {told}, but the feed is in {feed.currency}",
        )
    prices = [price for period in chosen for price in _prices(period)]
    mrid, revision = root.told("mRID"), root.find("revisionNumber")
    created = root.find("createdDateTime")
    return PriceDocument(
        kind="a44",
        currency=feed.currency,
        prices=in_one_piece(prices, ROOT),
        mrid=(mrid or "")[:60] or None,
        revision=1 if revision is None else _whole(revision),
        created_at=None if created is None else _instant(created),
        area=chosen[0].area,
    )


def _periods(root: Node) -> list[_Period]:
    found = []
    for series in root.all("TimeSeries"):
        if (series.told("contract_MarketAgreement.type") or DAY_AHEAD) != DAY_AHEAD:
            continue
        sequence = series.find(SEQUENCE)
        for node in series.all("Period"):
            resolution = node.need("resolution")
            minutes = RESOLUTIONS.get(resolution.text.strip())
            if minutes is None:
                raise InvalidInput(
                    resolution.place,
                    f"must be one of {', '.join(RESOLUTIONS)}, is {resolution.text.strip()[:20]!r}",
                )
            found.append(
                _Period(
                    node=node,
                    series=series,
                    area=series.told("in_Domain.mRID"),
                    sequence=1 if sequence is None else _whole(sequence),
                    minutes=minutes,
                )
            )
    if not found:
        raise InvalidInput(ROOT, "has no TimeSeries of a day-ahead market (contract type A01) with a Period")
    return found


def _choose(periods: list[_Period], feed: Feed) -> list[_Period]:
    """Those of the feed's area, then of its sequence (the lowest), then of its resolution (the finest)."""
    if feed.area is None and len(areas := sorted({str(p.area) for p in periods})) > 1:
        raise InvalidInput(
            "area", f"the document has prices of {', '.join(areas)}; tell the feed which it is"
        )
    of_area = _having(periods, "area", feed.area, lambda p: p.area)
    sequence = feed.sequence or min(p.sequence for p in of_area)
    of_sequence = _having(of_area, "sequence", sequence, lambda p: p.sequence)
    minutes = feed.minutes or min(p.minutes for p in of_sequence)
    return _having(of_sequence, "minutes", minutes, lambda p: p.minutes)


def _having(
    periods: Iterable[_Period], what: str, wanted: object, of: Callable[[_Period], object]
) -> list[_Period]:
    periods = list(periods)
    found = [period for period in periods if wanted is None or of(period) == wanted]
    if not found:
        there = ", ".join(sorted({str(of(period)) for period in periods}))
        raise InvalidInput(what, f"the feed wants {wanted}, but the document has {there}")
    return found


def _prices(period: _Period) -> list[MarketPrice]:
    interval = period.node.need("timeInterval")
    start, end = _instant(interval.need("start")), _instant(interval.need("end"))
    step = timedelta(minutes=period.minutes)
    count, rest = divmod(end - start, step)
    if count < 1 or rest:
        raise InvalidInput(interval.place, f"is no whole number of {period.minutes} minutes")
    if count > MOST_INTERVALS:
        raise InvalidInput(interval.place, f"has {count} intervals; at most {MOST_INTERVALS} are taken")
    points = _points(period.node, count)
    curve = period.series.told("curveType") or "A01"
    if curve == "A01":
        missing = [str(position) for position in range(1, count + 1) if position not in points]
        if missing:
            raise InvalidInput(
                period.node.place,
                f"curve A01 has no point at position {', '.join(missing[:5])} of {count}; ask for it again",
            )
    elif curve != "A03":
        raise InvalidInput(period.series.place, f"curveType must be A01 or A03, is {curve!r}")
    elif 1 not in points:
        raise InvalidInput(period.node.place, "curve A03 has no point at position 1, which others repeat")
    found = []
    holding = points[min(points)]
    for position in range(1, count + 1):
        holding = points.get(position, holding)
        at = start + (position - 1) * step
        price = price_of(holding.text, holding.place)
        found.append(MarketPrice(start=at, end=at + step, per_mwh=price))
    return found


def _points(period: Node, count: int) -> dict[int, Node]:
    """The nodes of the amounts by position."""
    found: dict[int, Node] = {}
    for point in period.all("Point"):
        position = _whole(point.need("position"))
        if not 1 <= position <= count:
            raise InvalidInput(point.place, f"position {position} is outside the interval, which has {count}")
        if position in found:
            raise InvalidInput(point.place, f"position {position} occurs twice")
        found[position] = point.need("price.amount")
    if not found:
        raise InvalidInput(period.place, "has no Point")
    return found


def _currency(series: Node) -> Currency:
    node = series.need("currency_Unit.name")
    unit = series.need("price_Measure_Unit.name")
    if unit.text.strip() != "MWH":
        raise InvalidInput(unit.place, f"must be MWH, is {unit.text.strip()[:20]!r}")
    try:
        return Currency(node.text.strip())
    except InvalidInput as error:
        raise InvalidInput(node.place, error.problem) from None


def _whole(node: Node) -> int:
    text = node.text.strip()
    if not (text.isascii() and text.isdigit() and len(text) <= 6):
        raise InvalidInput(node.place, f"must be a whole number, is {text[:20]!r}")
    return int(text)


def _instant(node: Node) -> datetime:
    text = node.text.strip()
    try:
        if _INSTANT.fullmatch(text):
            return datetime.fromisoformat(text).astimezone(UTC)
    except ValueError:
        pass  # 31 April: said below
    raise InvalidInput(node.place, f"must be a time in UTC such as 2026-01-14T23:00Z, is {text[:40]!r}")
