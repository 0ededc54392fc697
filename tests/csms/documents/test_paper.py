from dataclasses import replace
from datetime import date

import pytest

from csms.documents.language import Language
from csms.documents.paper import paper, period_text, spaced, title
from csms.documents.sentence import voice_of
from csms.ledger.statement import Balance, Statement
from tests.csms.documents import samples


def made(statement: Statement) -> dict[str, object]:
    return dict(paper(statement, voice_of(statement)))


def test_what_is_to_be_paid_comes_first_with_where_and_until_when() -> None:
    pay = made(samples.statement("en"))["pay"]
    assert pay == {
        "label": "To pay by 17 February 2026",
        "amount": "€310.66",
        "note": "This document: €310.66, of which €62.13 VAT",
        "details": [
            ["Pay to", "DE02 1203 0000 0000 2020 51"],
            ["Account holder", "Weavers' Yard Housing Association"],
            ["Reference", "WY-2026-0012"],
        ],
    }


@pytest.mark.parametrize(
    ("closing", "label", "amount"),
    [(0, "Nothing to pay", "€0.00"), (-250, "In your favour", "€2.50"), (100, "To pay by", "€1.00")],
)
def test_a_balance_decides_what_is_to_be_paid(closing: int, label: str, amount: str) -> None:
    balance = Balance(opening_minor=closing - 31066, charged_minor=31066, paid_minor=0, closing_minor=closing)
    pay = made(replace(samples.statement("en"), balance=balance))["pay"]
    assert isinstance(pay, dict)
    assert pay["label"].startswith(label)
    assert pay["amount"] == amount
    assert "Balance before it" in pay["note"]
    assert bool(pay["details"]) == (closing > 0)


def test_with_vat_it_is_called_an_invoice_and_without_a_statement() -> None:
    """Directive 2006/112/EC, article 226: what an invoice must show; several countries want the word."""
    with_vat, without = samples.statement("fr"), samples.unregistered("fr")
    assert title(with_vat, voice_of(with_vat)) == "Facture de recharge"
    assert title(without, voice_of(without)) == "Décompte de recharge"


def test_a_credit_note_is_short_and_names_what_it_takes_back() -> None:
    note = samples.credit_note(samples.spot_statement("en"))
    told = made(note)
    assert told["title"] == "Credit note"
    assert told["opening"] == [
        "This document takes back WY-2026-0013: what was charged there is credited here in full."
    ]
    assert ["Corrects", "WY-2026-0013 of 3 February 2026"] in list(told["facts"])  # type: ignore[call-overload]
    pay = told["pay"]
    assert isinstance(pay, dict)
    assert (pay["label"], pay["amount"]) == ("Credited", "€56.50")
    assert [part["title"] for part in told["parts"]] == [  # type: ignore[attr-defined]
        "What for",
        "Your account",
        "Notes",
    ]


def test_a_preview_says_so() -> None:
    told = made(replace(samples.statement("en"), number="", sequence=0))
    assert told["banner"] == "Preview, not issued"
    assert made(samples.statement("en"))["banner"] == ""


def test_a_month_has_a_name_and_other_periods_have_days() -> None:
    statement = samples.statement("en")
    assert period_text(statement, voice_of(statement)) == "January 2026"
    part = replace(statement, period_end=date(2026, 1, 16))
    assert period_text(part, voice_of(part)).replace("\N{THIN SPACE}", " ") == "1–15 Jan 2026"


def test_an_account_number_is_in_groups_and_a_local_one_as_it_is() -> None:
    assert spaced("DE02120300000000202051") == "DE02 1203 0000 0000 2020 51"
    assert spaced("1234.56.78903") == "1234.56.78903"


@pytest.mark.parametrize("language", Language)
def test_every_language_makes_the_same_paper(language: Language) -> None:
    told = made(samples.statement(language.value))
    assert [part["kind"] for part in told["parts"]] == [  # type: ignore[attr-defined]
        *("table", "table", "chart", "text", "table", "table", "table", "text"),
    ]
    assert "…" not in str(told).replace("04A2…91", "")
    assert "{" not in str(told["parts"]).replace("{'", "")
