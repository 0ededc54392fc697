from decimal import Decimal

from api.reports.sums import COLUMNS, Sums, notes_of


def test_sums_are_added_field_by_field_and_shown_in_the_currency() -> None:
    sums = Sums(sessions=1, energy_wh=5, excl=100, incl=125, estimated_wh=2)
    sums.add(
        Sums(sessions=2, energy_wh=6, excl=-50, incl=-60, unpriced=1, vat_unknown=1, running=1, marked=1)
    )
    row = sums.row("a", "A", "EUR")
    assert (row["sessions"], row["energy_wh"]) == (3, 11)
    assert (row["cost_excl"], row["vat"], row["cost_incl"]) == (
        Decimal("0.50"),
        Decimal("0.15"),
        Decimal("0.65"),
    )
    assert Sums(excl=7, incl=8).row("", "", "JPY")["cost_incl"] == Decimal(8)
    assert {column.name for column in COLUMNS} == row.keys() - {"id", "name"}


def test_all_that_is_missing_or_estimated_is_told() -> None:
    assert notes_of(Sums(sessions=3)) == []
    told = " ".join(notes_of(Sums(unpriced=1, vat_unknown=2, running=3, marked=4, estimated_wh=5)))
    for words in ("without a price: 1", "VAT: 2", "still run: 3", "Marked sessions: 4", "Estimated: 5 Wh"):
        assert words in told
