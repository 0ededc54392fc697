from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from api.web import month_rows
from csms.ledger.issuing.issued import Document
from csms.ledger.period import Month
from csms.ledger.pool import Key, Pool
from csms.ledger.proof import Check, Figure, Name, Verdict
from csms.ledger.statement import Recipient
from tests.csms.documents import samples

JANUARY = Month(2026, 1)
AT = datetime(2026, 2, 3, tzinfo=UTC)
POOL = Pool(
    id="p1",
    site_id="yard",
    name="Service",
    supplier="Fjord supply",
    amount_minor=120_001,
    vat_minor=30_000,
    vat_percent=Decimal(25),
    currency="NOK",
    period_start=date(2026, 1, 1),
    period_end=date(2026, 4, 1),
    key=Key.DAYS,
    created_at=AT,
)
DOCUMENT = Document(
    id="st_1",
    site_id="yard",
    run_id="run_1",
    member_id="flat-12",
    kind="statement",
    series="S",
    sequence=1,
    number="S-00001",
    period="2026-01",
    issued_at=AT,
    due_on=None,
    currency="EUR",
    net_minor=24853,
    vat_minor=6213,
    gross_minor=31066,
    hash="",
    upto_entry=0,
    corrects_id=None,
    replaces_id=None,
)


def test_members_stand_in_the_order_in_which_people_look_for_them() -> None:
    statements = [
        replace(samples.statement(), recipient=Recipient(member_id=name, name=name))
        for name in ("Flat 10", "Flat 2", "Bakery van")
    ]
    rows = month_rows.preview_rows(statements)
    assert [row.name for row in rows] == ["Bakery van", "Flat 2", "Flat 10"]
    assert (rows[0].energy, rows[0].net, rows[0].vat, rows[0].gross) == (
        "280.106",
        "248.53",
        "62.13",
        "310.66",
    )
    assert rows[0].open == "310.66"
    assert rows[0].estimated


def test_sums_count_the_last_balance_of_a_member_once() -> None:
    original = samples.statement()
    note = samples.credit_note(original)
    sums = month_rows.preview_sums([note, original], "EUR")
    assert (sums.count, sums.gross, sums.open) == (2, "0.00 EUR", "310.66 EUR")
    assert month_rows.preview_sums([], "EUR").gross == "0.00 EUR"


def test_issued_documents_are_told_without_their_bodies() -> None:
    credit = replace(DOCUMENT, id="st_2", number="C-00001", gross_minor=-31066, corrects_id="st_1")
    rows = month_rows.issued_rows([credit, DOCUMENT], {"flat-12": "Flat 12"})
    assert [(row.name, row.number, row.gross, row.credit) for row in rows] == [
        ("Flat 12", "C-00001", "-310.66", True),
        ("Flat 12", "S-00001", "310.66", False),
    ]
    assert month_rows.issued_sums([credit, DOCUMENT], "EUR").gross == "0.00 EUR"


def test_numbers_are_told_by_series() -> None:
    first, last = (replace(samples.statement(), sequence=n, number=f"WY-{n:05}") for n in (9, 12))
    note = samples.credit_note(first)
    assert month_rows.numbers([note, last, first]) == "WY-2026-C-0001, WY-00009 to WY-00012"


def test_a_check_is_a_sentence_with_its_figures() -> None:
    check = Check(
        name=Name.TREE,
        verdict=Verdict.FAIL,
        words="losses of 9.1 % are above the bound of 8 %",
        figures=(Figure("losses", "9.1", "%"), Figure("sessions", "12")),
    )
    (row,) = month_rows.check_rows([check])
    assert (row.name, row.tone, row.verdict) == ("Main meter, chargers, losses", "bad", "does not hold")
    assert row.words == "Losses of 9.1 % are above the bound of 8 %."
    assert row.figures == (("losses", "9.1 %"), ("sessions", "12"))
    assert set(month_rows.CHECKS) == set(Name)
    stored = {
        "name": "tree",
        "verdict": "FAIL",
        "words": check.words,
        "figures": [
            {"label": "losses", "value": "9.1", "unit": "%"},
            {"label": "sessions", "value": "12", "unit": ""},
        ],
    }
    assert month_rows.stored_checks([stored]) == (check,)


def test_an_invoice_of_a_quarter_shows_what_of_it_is_the_months() -> None:
    """31 of 90 days of 1,200.01: 413.3368, by largest remainder 413.34."""
    (row,) = month_rows.pool_rows([POOL], JANUARY)
    assert (row.amount, row.of_month, row.period) == ("1200.01", "413.34", "Jan to Mar 2026")
    assert row.key == "equally, by days"
    assert month_rows.pool_rows([POOL], Month(2026, 4)) == ()
    assert set(month_rows.KEYS) == set(Key)


@pytest.mark.parametrize(
    ("start", "end", "text"),
    [
        (date(2026, 1, 1), date(2026, 2, 1), "Jan 2026"),
        (date(2025, 12, 1), date(2026, 2, 1), "Dec 2025 to Jan 2026"),
        (date(2026, 1, 5), date(2026, 2, 1), "05 Jan to 31 Jan 2026"),
    ],
)
def test_a_period_is_as_short_as_it_can_be(start: date, end: date, text: str) -> None:
    assert month_rows.period_text(replace(POOL, period_start=start, period_end=end)) == text
