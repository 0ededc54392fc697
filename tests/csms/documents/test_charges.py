from dataclasses import replace

from csms.documents import charges
from csms.documents.sentence import voice_of
from csms.ledger.statement import Balance
from tests.csms.documents import samples


def test_lines_end_with_net_vat_and_total() -> None:
    statement = samples.spot_statement("en")
    part = charges.lines(statement, voice_of(statement))
    last = [(row["cells"][0], row["cells"][-1]) for row in part["rows"][-4:]]
    assert [(a.replace("\N{NO-BREAK SPACE}", " "), b) for a, b in last] == [
        ("Net in all", "€47.98"),
        ("VAT 7 % on €5.00", "€0.35"),
        ("VAT 19 % on €42.98", "€8.17"),
        ("Total with VAT", "€56.50"),
    ]
    assert [len(row["cells"]) for row in part["rows"]] == [len(part["columns"])] * len(part["rows"])


def test_a_price_of_eight_places_says_that_it_is_cut() -> None:
    statement = samples.spot_statement("en")
    part = charges.lines(statement, voice_of(statement))
    assert part["rows"][0]["cells"][1:3] == ["182.437\N{NO-BREAK SPACE}kWh", "€0.244313/kWh"]
    assert any("six decimals" in note for note in part["notes"])
    assert charges.lines(samples.statement("en"), voice_of(statement))["notes"] == []


def test_who_is_not_registered_shows_no_vat() -> None:
    statement = samples.unregistered("en")
    part = charges.lines(statement, voice_of(statement))
    assert "VAT" not in [column["head"] for column in part["columns"]]
    assert part["rows"][-1]["cells"][-1] == "€248.53"
    assert part["notes"] == ["The issuer is not registered for VAT; no VAT is charged."]


def test_an_account_adds_up_row_by_row() -> None:
    statement = samples.statement("en")
    part = charges.account(statement, voice_of(statement))
    assert part is not None
    assert [row["cells"] for row in part["rows"]] == [
        ["Balance before", "€120.00"],
        ["Paid on 15 January 2026", "-€120.00"],
        ["This document", "€310.66"],
        ["Open now", "€310.66"],
    ]


def test_payments_that_are_not_listed_are_summed() -> None:
    balance = Balance(opening_minor=0, charged_minor=5000, paid_minor=8000, closing_minor=-3000)
    statement = replace(samples.statement("en"), balance=balance, payments=())
    part = charges.account(statement, voice_of(statement))
    assert part is not None
    assert [row["cells"] for row in part["rows"]][1:] == [
        ["Paid in all", "-€80.00"],
        ["This document", "€50.00"],
        ["In your favour now", "€30.00"],
    ]


def test_a_first_document_needs_no_account() -> None:
    statement = samples.spot_statement()
    assert charges.account(statement, voice_of(statement)) is None
