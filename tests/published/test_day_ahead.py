"""A day-ahead document as published, and the market days of years with summer time.

Sources: ENTSO-E, "Electronic Data Interchange (EDI) library", publication document (IEC 62325-451-3,
type A44) and its curve types A01 and A03; the document is hand-made with the structure of live ones,
its interval shortened to six quarter hours. The days follow the EU's summer time rule (Directive
2000/84/EC) in the market's zone, Europe/Brussels.
"""

import json
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from csms.errors import InvalidInput
from csms.metering.edges import first_instant, grid
from csms.money import Currency
from csms.tariffs.market.a44 import parse_a44
from csms.tariffs.market.feed import Feed

VECTORS: dict[str, Any] = json.loads(Path(__file__).with_name("day_ahead.json").read_text(encoding="utf-8"))
SAMPLE = VECTORS["a44_sample"]
FEED = Feed(
    id="be",
    name="Belgium, day ahead",
    currency=Currency("EUR"),
    area="10YBE----------2",
    created_at=datetime(2026, 1, 1, tzinfo=UTC),
)


def test_the_published_document() -> None:
    read = parse_a44(SAMPLE["xml"].encode(), FEED)
    assert [price.per_mwh for price in read.prices] == [Decimal(p) for p in SAMPLE["expanded_eur_per_mwh"]]
    assert [price.per_kwh for price in read.prices] == [Decimal(p) for p in SAMPLE["expanded_eur_per_kwh"]]
    assert (read.mrid, read.revision) == ("0123456789abcdef0123456789abcdef", 1)
    assert read.start == datetime(2026, 1, 14, 23, tzinfo=UTC)
    assert {price.end - price.start for price in read.prices} == {timedelta(minutes=15)}


def test_the_same_as_curve_a01_has_a_gap() -> None:
    """Positions 3, 4 and 6 are absent: with A01 that is an error, not a repetition."""
    with pytest.raises(InvalidInput, match="curve A01 has no point at position 3, 4, 6 of 6"):
        parse_a44(SAMPLE["xml"].replace("A03", "A01").encode(), FEED)


@pytest.mark.parametrize("day", VECTORS["market_days"], ids=lambda day: day["date"])
def test_market_days(day: dict[str, Any]) -> None:
    zone = ZoneInfo("Europe/Brussels")
    when = date.fromisoformat(day["date"])
    start, end = first_instant(when, zone), first_instant(when + timedelta(days=1), zone)
    assert start == datetime.fromisoformat(day["start_utc"])
    assert end == datetime.fromisoformat(day["end_utc"])
    assert len(grid(start, end, 15)) + 1 == day["quarter_hours"]
    points = "".join(
        f"<Point><position>{i}</position><price.amount>{i}</price.amount></Point>"
        for i in range(1, day["quarter_hours"] + 1)
    )
    xml = SAMPLE["xml"].replace("A03", "A01")
    head, _, rest = xml.partition("<Period>")
    tail = rest.partition("</Period>")[2]
    interval = f"<start>{day['start_utc']}</start><end>{day['end_utc']}</end>"
    period = f"<timeInterval>{interval}</timeInterval><resolution>PT15M</resolution>{points}"
    read = parse_a44(f"{head}<Period>{period}</Period>{tail}".encode(), FEED)
    assert (len(read.prices), read.start, read.end) == (day["quarter_hours"], start, end)
