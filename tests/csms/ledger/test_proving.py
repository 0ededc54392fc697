"""All ten over a month's evidence."""

from dataclasses import replace
from typing import Any

from csms.ledger.assembling import Assembled
from csms.ledger.charges import charges
from csms.ledger.drafting import draft
from csms.ledger.entries import booked_of, of_draft
from csms.ledger.inputs import RunInputs
from csms.ledger.proof import Name, Repriced, Verdict
from csms.ledger.proving import Evidence, prove
from csms.ledger.supply import SupplyEnergy


def evidence(inputs: RunInputs, **more: Any) -> Evidence:
    made = draft(inputs)
    gathered = Assembled(
        parts=inputs.parts,
        chains=(),
        repriced=(Repriced(1, 800, 800),),
        untiled=(),
        unpriced={},
        between_wh=0,
        peak_wh={},
        peak_at=None,
    )
    values: dict[str, Any] = {
        "gathered": gathered,
        "supply": SupplyEnergy(52_000, False),
        "supply_problem": "",
        "spaces": {"bay 1": "a"},
        "inputs": inputs,
        "charges": made.charges,
        "booked": None,
        "documents": made.statements,
        "openings": {},
        "sequences": {"Y": [1, 2]},
        "again": (("Y-1", "x", "x"),),
    }
    return Evidence(**values | more)


def verdicts(found: Evidence) -> dict[Name, Verdict]:
    return {check.name: check.verdict for check in prove(found)}


def test_all_ten_are_told_in_order_and_hold(inputs: RunInputs) -> None:
    assert [check.name for check in prove(evidence(inputs))] == list(Name)
    assert set(verdicts(evidence(inputs)).values()) == {Verdict.PASS}


def test_what_is_booked_counts_once_there_is_something(inputs: RunInputs) -> None:
    booked = booked_of(of_draft(draft(inputs)), "2026-01")
    assert verdicts(evidence(inputs, booked=booked))[Name.MONEY] is Verdict.PASS
    lost = {about: minor for about, minor in booked.items() if about.account != "a"}
    assert verdicts(evidence(inputs, booked=lost))[Name.MONEY] is Verdict.FAIL


def test_a_session_without_a_price_fails_where_members_pay_sessions(inputs: RunInputs) -> None:
    found = evidence(inputs)
    unpriced = replace(found.gathered, unpriced={9: "a market price is missing"})
    assert verdicts(replace(found, gathered=unpriced))[Name.PRICE] is Verdict.FAIL
    shares = replace(inputs, terms=replace(inputs.terms, members_pay_sessions=False))
    free = evidence(shares, gathered=replace(unpriced, repriced=()))
    assert verdicts(free)[Name.PRICE] is Verdict.NOT_MEASURED


def test_without_written_places_everybody_is_one(inputs: RunInputs) -> None:
    assert verdicts(evidence(inputs, spaces={}))[Name.COMPLETENESS] is Verdict.PASS
    only = draft(replace(inputs, only=("b",))).statements
    checks = {check.name: check for check in prove(evidence(inputs, spaces={}, documents=only))}
    assert "a, who has place of a, has no statement" in checks[Name.COMPLETENESS].words
    assert charges(inputs)
