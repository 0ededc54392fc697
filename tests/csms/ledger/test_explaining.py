"""What a statement says of itself."""

from collections.abc import Callable
from dataclasses import replace

from csms.ledger.charges import by_account, charges
from csms.ledger.explaining import estimates_of, explained, site_figures
from csms.ledger.inputs import Part, RunInputs
from csms.ledger.statement import Flag, Issuer, Sum


def test_prices_keys_losses_and_surplus_are_explained(inputs: RunInputs) -> None:
    found = charges(inputs)
    site = site_figures(inputs, found)
    said = {each.key: each.arguments for each in explained(inputs, site, by_account(found)["b"], ())}
    assert said["price_tariff"] == {"tariff": "Spot"}
    assert said["pool_key"] == {
        "pool": "Grid",
        "key": "kwh",
        "amount": "10.01",
        "weight": "30.000",
        "whole": "50.000",
    }
    assert said["losses"] == {"percent": "3.85", "rule": "by_kwh"}
    assert said["guest_surplus"] == {"amount": "28.00"}
    assert "not_registered" not in said


def test_without_a_main_meter_and_guests_nothing_is_said_of_them(inputs: RunInputs) -> None:
    bare = replace(
        inputs,
        supply_wh=None,
        parts=inputs.parts[:2],
        terms=replace(inputs.terms, issuer=Issuer(name="Yard")),
    )
    site = site_figures(bare, charges(bare))
    said = {each.key for each in explained(bare, site, (), ())}
    assert said == {"not_registered"}
    assert Sum.MAIN_METER not in {line.key for line in site.adds_up}


def test_what_was_estimated_is_told_with_its_reason(make_part: Callable[..., Part]) -> None:
    parts = (
        make_part("a", 1, 5000, 1, flags=(Flag.ESTIMATED,), reason="next_session", estimated_wh=700),
        make_part("a", 2, 3000, 1, flags=(Flag.INTERPOLATED,)),
        make_part("a", 3, 3000, 1),
    )
    assert [(e.reason, e.energy_wh, e.session_id) for e in estimates_of(parts)] == [
        ("next_session", 700, 1),
        ("boundary", 3000, 2),
    ]
