from dataclasses import replace

import pytest

from csms.documents.columns import Column, Content, DocumentSettings, check_settings
from csms.errors import InvalidInput

PLAIN = DocumentSettings()


def test_the_first_settings_are_sound() -> None:
    assert check_settings(PLAIN) == PLAIN


def test_names_and_codes_are_trimmed() -> None:
    settings = replace(
        PLAIN, columns=(Column(Content.NET, "  Nettobetrag "),), accounts={"vat": " 1776 "}, account=" 8400"
    )
    checked = check_settings(settings)
    assert checked.columns == (Column(Content.NET, "Nettobetrag"),)
    assert (checked.accounts, checked.account) == ({"vat": "1776"}, "8400")


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        (replace(PLAIN, columns=()), "columns"),
        (replace(PLAIN, columns=(Column(Content.NET),) * 41), "columns"),
        (replace(PLAIN, columns=(Column(Content.NET, "a\nb"),)), "columns.0.name"),
        (replace(PLAIN, decimal_sign="x"), "decimal_sign"),
        (replace(PLAIN, separator="|"), "separator"),
        (replace(PLAIN, decimal_sign=","), "separator"),
        (replace(PLAIN, accounts={"coffee": "1"}), "accounts.coffee"),
        (replace(PLAIN, accounts={"vat": ""}), "accounts.vat"),
        (replace(PLAIN, account="1" * 41), "account"),
        (replace(PLAIN, member_accounts={"flat-1": "\t"}), "member_accounts.flat-1"),
        (replace(PLAIN, member_accounts={f"m{n}": "1" for n in range(5001)}), "member_accounts"),
    ],
)
def test_a_wrong_one_names_its_field(wrong: DocumentSettings, field: str) -> None:
    with pytest.raises(InvalidInput) as refusal:
        check_settings(wrong)
    assert refusal.value.field == field
