"""Each of the ten holds where it should, and fails with the reason where something is wrong."""

from dataclasses import replace
from decimal import Decimal

import pytest

from csms.ledger import proof
from csms.ledger.drafting import draft
from csms.ledger.inputs import RunInputs
from csms.ledger.proof import Chain, Check, Repriced, Verdict
from csms.ledger.supply import SupplyEnergy

CHAIN = Chain(station_id="bay", evse=1, sessions=2, sessions_wh=5000, between_wh=20, register_wh=5020)
BOUND = Decimal(5)


def words(check: Check) -> str:
    assert check.verdict is Verdict.FAIL
    return check.words


def test_registers() -> None:
    assert proof.registers([CHAIN]).verdict is Verdict.PASS
    assert "the register rose by 5.021 kWh" in words(proof.registers([replace(CHAIN, register_wh=5021)]))
    assert words(proof.registers([replace(CHAIN, unexplained=("odd",))])) == "odd"
    swapped = proof.registers([replace(CHAIN, swaps=("bay/1 stood at 9",))])
    assert swapped.verdict is Verdict.PASS
    assert "its meter was changed: bay/1 stood at 9" in swapped.words


def test_tree() -> None:
    assert proof.tree(SupplyEnergy(10_000, False), 9_600, BOUND).verdict is Verdict.PASS
    assert "losses of 6.00 % are above the bound of 5 %" in words(
        proof.tree(SupplyEnergy(10_000, False), 9_400, BOUND)
    )
    assert "0.001 kWh more than the main meter" in words(
        proof.tree(SupplyEnergy(10_000, False), 10_001, BOUND)
    )
    assert words(proof.tree(None, 1, BOUND, "enter one")) == "enter one"
    assert proof.tree(None, 1, BOUND).verdict is Verdict.NOT_MEASURED
    assert proof.tree(SupplyEnergy(0, False), 0, BOUND).verdict is Verdict.PASS
    assert "interpolated" in proof.tree(SupplyEnergy(10, True), 10, BOUND).words


def test_time() -> None:
    assert proof.time([CHAIN], [], 3).verdict is Verdict.PASS
    assert words(proof.time([replace(CHAIN, overlaps=("1 and 2",))], [], 3)) == "1 and 2"
    assert words(proof.time([CHAIN], ["a gap"], 3)) == "a gap"


def test_price() -> None:
    assert proof.price([Repriced(1, 5, 5)], "NOK").verdict is Verdict.PASS
    assert words(proof.price([Repriced(1, 5, 6), Repriced(2, None, None)], "NOK")) == (
        "session 1: booked 0.05, by the stored prices 0.06; session 2: booked nothing, by the stored "
        "prices nothing"
    )


def test_money() -> None:
    shares = {"grid": {"members": 900, "guests": 100, "association": 1}}
    assert proof.money({"grid": 1001}, shares, "NOK").verdict is Verdict.PASS
    assert "shares come to 10.01, the invoice to 10.02" in words(proof.money({"grid": 1002}, shares, "NOK"))
    assert "lost: shares come to 0.00" in words(proof.money({"grid": 1001, "lost": 1}, shares, "NOK"))
    assert "the invoice to 0.00" in words(proof.money({}, shares, "NOK"))


def test_vat_and_payments(inputs: RunInputs) -> None:
    statements = draft(inputs).statements
    openings = {statement.id: 0 for statement in statements}
    assert proof.vat(statements).verdict is Verdict.PASS
    assert proof.payments(statements, openings, "NOK").verdict is Verdict.PASS
    first = statements[0]
    twice = replace(first, vat_minor=first.vat_minor + 1, gross_minor=first.gross_minor + 1)
    assert words(proof.vat([twice])) == "Y-00001 does not add up"
    wrong = replace(first, balance=replace(first.balance, closing_minor=0))
    assert words(proof.payments([wrong], openings, "NOK")) == "Y-00001: its account does not add up"
    assert "opens with 0.00, the books with 0.07" in words(proof.payments([first], {first.id: 7}, "NOK"))


def test_completeness() -> None:
    assert proof.completeness({"bay 1": "a"}, ["a", "b"], 1).verdict is Verdict.PASS
    assert words(proof.completeness({"bay 1": "c"}, ["a"], 1)) == "c, who has bay 1, has no statement"


@pytest.mark.parametrize(("found", "text"), [([1, 3], "missing [2]"), ([1, 1], "twice 1"), ([2], "[1]")])
def test_numbers(found: list[int], text: str) -> None:
    assert proof.numbers({"WY": [1, 2, 3], "C": []}).verdict is Verdict.PASS
    assert text in words(proof.numbers({"WY": found}))


def test_same_bytes() -> None:
    assert proof.same_bytes([("WY-1", "ab", "ab")]).verdict is Verdict.PASS
    assert words(proof.same_bytes([("WY-1", "ab", "cd")])) == "WY-1 is not what it was"


def test_many_faults_are_told_in_few_words() -> None:
    text = words(proof.same_bytes([(f"WY-{n}", "a", "b") for n in range(9)]))
    assert text.endswith("; and 4 more")
