from dataclasses import replace
from datetime import date
from decimal import Decimal

from csms.documents.columns import Column, Content, DocumentSettings, RowsPer
from csms.documents.language import Language
from csms.documents.rent_ledger import table_of
from csms.documents.sentence import voice_of
from tests.csms.documents import samples

STATEMENTS = (
    samples.statement("en"),
    samples.spot_statement("de"),
    samples.credit_note(samples.spot_statement("de")),
    samples.unregistered("nb"),
)
VOICE = voice_of(samples.statement(), Language.GERMAN)


def test_a_row_for_each_document_by_the_sites_columns() -> None:
    settings = DocumentSettings(
        columns=(
            Column(Content.MEMBER_ACCOUNT, "Debitor"),
            *(Column(each) for each in (Content.NUMBER, Content.ISSUED_ON, Content.PERIOD, Content.TEXT)),
            *(Column(each) for each in (Content.NET, Content.VAT, Content.GROSS, Content.ENERGY_KWH)),
            *(Column(each) for each in (Content.ACCOUNT, Content.CORRECTS, Content.PERIOD_END)),
        ),
        account="4711",
        member_accounts={"flat-12": "10012"},
    )
    table = table_of(STATEMENTS, settings, VOICE)
    assert table.heads[:3] == ("Debitor", "Nummer", "Ausgestellt")
    assert table.rows[0] == (
        *("10012", "WY-2026-0012", date(2026, 2, 3), "2026-01", "Invoice for charging January 2026"),
        *(Decimal("248.53"), Decimal("62.13"), Decimal("310.66"), Decimal("280.106")),
        *("4711", "", date(2026, 1, 31)),
    )
    assert table.rows[2][7] == Decimal("-56.50")
    assert table.rows[2][10] == "WY-2026-0013"


def test_a_row_for_each_line_adds_up_to_the_documents() -> None:
    settings = DocumentSettings(
        columns=tuple(
            Column(each) for each in (Content.ACCOUNT, Content.ITEM, Content.AMOUNT, Content.ENERGY_KWH)
        ),
        rows_per=RowsPer.LINE,
        account="4000",
        accounts={"pool_share": "4100", "vat": "1776"},
    )
    table = table_of(STATEMENTS, settings, VOICE)
    assert len(table.rows) == (5 + 1) + (4 + 2) * 2 + 5
    assert [row[0] for row in table.rows[:6]] == ["4100"] * 5 + ["1776"]
    assert table.rows[6][0] == "4000"
    total = sum((row[2] for row in table.rows if isinstance(row[2], Decimal)), Decimal(0))
    assert total == Decimal("310.66") + Decimal("56.50") - Decimal("56.50") + Decimal("248.53")
    assert {row[3] for row in table.rows} == {None}, "energy would be counted once for each line"


def test_every_content_has_a_value_of_its_document() -> None:
    settings = DocumentSettings(columns=tuple(Column(each) for each in Content))
    table = table_of([samples.statement("en")], settings, VOICE)
    told = dict(zip(Content, table.rows[0], strict=True))
    assert told[Content.OPENING] == Decimal("120.00")
    assert told[Content.CLOSING] == Decimal("310.66")
    assert {content for content, cell in told.items() if cell is None} == {
        *(Content.QUANTITY, Content.UNIT, Content.UNIT_PRICE, Content.VAT_PERCENT)
    }


def test_an_amount_has_its_currencys_decimals() -> None:
    yen = replace(samples.unregistered(), currency="JPY")
    settings = DocumentSettings(columns=(Column(Content.GROSS),))
    ((cell,),) = table_of([yen], settings, VOICE).rows
    assert str(cell) == "24853"
