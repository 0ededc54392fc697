"""How a site bills, and what is refused."""

from dataclasses import replace
from decimal import Decimal

import pytest

from csms.errors import InvalidInput
from csms.ledger import canonical
from csms.ledger.statement import Issuer
from csms.ledger.terms import Terms, check_terms

TERMS = Terms(issuer=Issuer(name=" Weavers' Yard ", address=("Mill Lane 1", " ")), first_month="2026-01")


def test_terms_come_in_their_final_form_and_survive_their_text() -> None:
    made = check_terms(TERMS)
    assert made.issuer.name == "Weavers' Yard"
    assert made.issuer.address == ("Mill Lane 1",)
    assert not made.registered
    assert canonical.read(Terms, canonical.write(made)) == made


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"first_month": "2026"}, "first_month"),
        ({"series": "wy"}, "series"),
        ({"credit_series": "S"}, "credit_series"),
        ({"language": "english"}, "language"),
        ({"due_days": -1}, "due_days"),
        ({"correct_months": 99}, "correct_months"),
        ({"loss_bound_percent": Decimal(-1)}, "loss_bound_percent"),
        ({"vat_percent": Decimal(25)}, "vat_percent"),
        ({"issuer": Issuer(name="Yard", tax_id="NO1"), "vat_percent": Decimal("25.123")}, "vat_percent"),
        ({"issuer": Issuer(name=" ")}, "issuer.name"),
        ({"issuer": Issuer(name="Yard", tax_id=" ")}, "issuer.tax_id"),
        ({"issuer": Issuer(name="Yard", country="Norway")}, "issuer.country"),
        ({"issuer": Issuer(name="Yard", address=("a",) * 7)}, "issuer.address"),
    ],
)
def test_what_is_wrong_is_named(wrong: dict[str, object], field: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        check_terms(replace(TERMS, **wrong))  # type: ignore[arg-type]
    assert refused.value.field == field
