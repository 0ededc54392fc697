"""Which price holds when several documents speak, and where none does."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from csms.money import Currency
from csms.tariffs.market.series import MarketPrice, PriceSeries, Standing, lay

EUR = Currency("EUR")
DAY = datetime(2026, 1, 14, 23, tzinfo=UTC)


def at(minutes: float) -> datetime:
    return DAY + timedelta(minutes=minutes)


def prices(document_id: str, minutes: int, *per_mwh: int, start: int = 0) -> list[MarketPrice]:
    return [
        MarketPrice(
            start=at(start + i * minutes),
            end=at(start + (i + 1) * minutes),
            per_mwh=Decimal(price),
            document_id=document_id,
        )
        for i, price in enumerate(per_mwh)
    ]


def standing(document_id: str, made: int, mrid: str | None = None, revision: int = 1) -> Standing:
    return Standing(
        document_id=document_id, mrid=mrid, revision=revision, created_at=at(made), received_at=at(made)
    )


def brief(series: PriceSeries) -> list[tuple[int, int, int]]:
    minute = timedelta(minutes=1)
    return [((p.start - DAY) // minute, (p.end - DAY) // minute, int(p.per_mwh)) for p in series.prices]


def test_one_document() -> None:
    series = lay("yard", EUR, [(standing("a", 0), prices("a", 15, 80, 75, -1))])
    assert [series.at(at(m)) and series.at(at(m)).per_mwh for m in (-1, 0, 14.9, 15, 44, 45)] == [  # type: ignore[union-attr]
        None,
        80,
        80,
        75,
        -1,
        None,
    ]
    assert series.at(at(40)).per_kwh == Decimal("-0.001")  # type: ignore[union-attr]
    assert series.edges(at(0), at(40)) == (at(15), at(30))
    assert series.edges(at(-5), at(60)) == (at(0), at(15), at(30), at(45))
    assert series.gaps(at(5), at(45)) == ()
    assert [(gap.start, gap.end) for gap in series.gaps(at(-15), at(60))] == [
        (at(-15), at(0)),
        (at(45), at(60)),
    ]
    assert str(series.gaps(at(45), at(60))[0]) == "yard from 2026-01-14T23:45:00Z to 2026-01-15T00:00:00Z"


def test_a_higher_revision_replaces_the_whole_document_whenever_it_came() -> None:
    old = (standing("a", 0, "M", 1), prices("a", 15, 1, 2, 3))
    new = (standing("b", 5, "M", 2), prices("b", 15, 7, 8))
    late = (standing("c", 9, "M", 1), prices("c", 15, 4, 4))
    for told in ([old, new, late], [late, new, old]):
        assert brief(lay("yard", EUR, told)) == [(0, 15, 7), (15, 30, 8)], "no third price: the gap is told"


def test_of_two_documents_the_later_one_and_the_other_where_it_is_silent() -> None:
    hours = (standing("a", 0), prices("a", 60, 10, 20))
    quarters = (standing("b", 5), prices("b", 15, 5, 6, start=30))
    assert brief(lay("yard", EUR, [quarters, hours])) == [
        (0, 30, 10),
        (30, 45, 5),
        (45, 60, 6),
        (60, 120, 20),
    ]
    around = (standing("c", 9), prices("c", 120, 9))
    assert brief(lay("yard", EUR, [quarters, hours, around])) == [(0, 120, 9)]


PIECES = st.lists(st.tuples(st.integers(0, 20), st.integers(1, 8), st.integers(0, 9)), max_size=6)


@settings(max_examples=60)
@given(st.lists(PIECES, max_size=4))
def test_at_every_instant_the_best_that_speaks(documents: list[list[tuple[int, int, int]]]) -> None:
    told = []
    for rank, pieces in enumerate(documents):
        kept: list[MarketPrice] = []
        for start, length, price in sorted(pieces):
            if not kept or kept[-1].end <= at(start):
                kept.append(MarketPrice(start=at(start), end=at(start + length), per_mwh=Decimal(price)))
        told.append((standing(f"d{rank}", rank), kept))
    series = lay("yard", EUR, told)
    assert all(a.end <= b.start for a, b in zip(series.prices, series.prices[1:], strict=False))
    for minute in range(32):
        speaking = [p for _, kept in told for p in kept if p.start <= at(minute) < p.end]
        found = series.at(at(minute))
        assert (found and found.per_mwh) == (speaking[-1].per_mwh if speaking else None)
