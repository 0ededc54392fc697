"""Prices as lines of text: `timestamp, price, unit`, and a heading with these words.

The separator is a comma, a semicolon (then decimals may have a comma) or a tab. A timestamp begins an
interval and has its offset, as an hour that the clock shows twice could not be told otherwise. The
intervals are equally long and leave no gap. The unit is the currency per MWh or kWh, e.g. `EUR/MWh`.
"""

import itertools
from csv import Error, reader
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from io import StringIO

from csms.errors import InvalidInput
from csms.money import Currency
from csms.tariffs.market.document import PriceDocument, in_one_piece, price_of
from csms.tariffs.market.feed import RESOLUTIONS, Feed
from csms.tariffs.market.series import MarketPrice, written

COLUMNS = ("timestamp", "price", "unit")
UNITS = {"MWH": False, "KWH": True}


def parse_csv(raw: bytes, feed: Feed) -> PriceDocument:
    """The prices; InvalidInput names the line and what is wrong there, and nothing is taken."""
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise InvalidInput(f"line {line}", "is not UTF-8 text") from None
    heading = text.split("\n", 1)[0]
    separator = max(",;\t", key=heading.count)
    lines = reader(StringIO(text, newline=""), delimiter=separator, strict=True)
    told: list[tuple[int, datetime, Decimal]] = []
    places: dict[str, int] = {}
    try:
        for row in lines:
            number = lines.line_num
            cells = [cell.strip() for cell in row]
            if not any(cells):
                continue
            if not places:
                places = _heading(cells)
                continue
            if len(cells) != len(places):
                raise InvalidInput(f"line {number}", f"has {len(cells)} columns, the heading {len(places)}")
            values = {name: cells[place] for name, place in places.items()}
            told.append((number, _instant(values, number), _price(values, number, separator, feed)))
    except Error as error:
        raise InvalidInput(f"line {lines.line_num}", f"not CSV: {error}") from None
    if not told:
        raise InvalidInput("document", "holds no price")
    step = _step(told, feed)
    prices = [MarketPrice(start=at, end=at + step, per_mwh=price) for _, at, price in told]
    return PriceDocument(kind="csv", currency=feed.currency, prices=in_one_piece(prices, "document"))


def _heading(cells: list[str]) -> dict[str, int]:
    places = {cell.lower(): i for i, cell in enumerate(cells)}
    for name in COLUMNS:
        if name not in places:
            raise InvalidInput("line 1", f"must head the columns timestamp, price, unit; {name} is missing")
    if len(places) != len(cells):
        raise InvalidInput("line 1", "the heading has a column twice")
    return places


def _instant(values: dict[str, str], number: int) -> datetime:
    text = values["timestamp"]
    at = utc = None
    try:
        at = datetime.fromisoformat(text)
        utc = at.astimezone(UTC) if at.tzinfo is not None else None
    except (ValueError, OverflowError):
        at = None
    if at is None or len(text) < 16:
        problem = f"timestamp must be such as 2026-01-15T00:00:00+01:00, is {text[:40]!r}"
        raise InvalidInput(f"line {number}", problem)
    if utc is None:
        raise InvalidInput(
            f"line {number}", f"timestamp {text[:40]} needs its offset from UTC, such as +01:00 or Z"
        )
    return utc


def _price(values: dict[str, str], number: int, separator: str, feed: Feed) -> Decimal:
    place = f"line {number}"
    code, _, per = values["unit"].partition("/")
    if per.upper() not in UNITS:
        raise InvalidInput(place, f"unit must be such as EUR/MWh or EUR/kWh, is {values['unit'][:20]!r}")
    try:
        currency = Currency(code)
    except InvalidInput as error:
        raise InvalidInput(place, f"unit: {error.problem}") from None
    if currency != feed.currency:
        raise InvalidInput(place, f"unit: the price is in {currency}, but the feed is in {feed.currency}")
    text = values["price"]
    if separator == ";" and "." not in text:
        text = text.replace(",", ".")
    return price_of(text, f"{place}, price", per_kwh=UNITS[per.upper()])


def _step(told: list[tuple[int, datetime, Decimal]], feed: Feed) -> timedelta:
    """The length of an interval: what all of them have between them, or the feed's if there is one price."""
    ordered = sorted(told, key=lambda each: each[1])
    if len(ordered) == 1:
        if feed.minutes is None:
            raise InvalidInput("document", "has one price only, and the feed does not say how long it holds")
        return timedelta(minutes=feed.minutes)
    steps = {after[1] - before[1] for before, after in itertools.pairwise(ordered)}
    least = min(steps)
    if not least:
        twice = next(b for a, b in itertools.pairwise(ordered) if a[1] == b[1])
        raise InvalidInput(f"line {twice[0]}", f"a second price for {written(twice[1])}")
    minutes = least / timedelta(minutes=1)
    if minutes not in RESOLUTIONS or (feed.minutes is not None and minutes != feed.minutes):
        wanted = feed.minutes or " or ".join(map(str, RESOLUTIONS))
        raise InvalidInput("document", f"prices are {minutes:g} minutes apart, not {wanted}")
    for before, after in itertools.pairwise(ordered):
        if after[1] - before[1] != least:
            raise InvalidInput(
                f"line {after[0]}",
                f"begins at {written(after[1])}, but the one before ends at {written(before[1] + least)}; "
                "a document with a gap is not taken",
            )
    return least
