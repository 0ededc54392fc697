"""Statements out of inputs: what they say, and always the same bytes."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal

from csms.ledger import canonical
from csms.ledger.drafting import draft, number_of, statement_id
from csms.ledger.inputs import Correction, Part, RunInputs
from csms.ledger.statement import Flag, LineKind, PaymentLine, Statement, Sum


def test_a_statement_has_its_lines_totals_account_and_number(inputs: RunInputs) -> None:
    paid = PaymentLine(at=date(2026, 1, 20), amount_minor=500)
    first = replace(inputs.members[0], opening_minor=700, payments=(paid,))
    made = draft(replace(inputs, members=(first, inputs.members[1])))
    statement, other = made.statements
    assert [(line.kind, line.net_minor) for line in statement.lines] == [
        (LineKind.SESSIONS, 800),
        (LineKind.POOL_SHARE, 200),
    ]
    assert (statement.net_minor, statement.vat_minor, statement.gross_minor) == (1000, 250, 1250)
    balance = statement.balance
    assert (balance.opening_minor, balance.charged_minor, balance.paid_minor, balance.closing_minor) == (
        700,
        1250,
        500,
        1450,
    )
    assert (statement.number, other.number) == ("Y-00001", "Y-00002")
    assert statement.due_on == date(2026, 2, 17)
    assert (statement.period_start, statement.period_end) == (date(2026, 1, 1), date(2026, 2, 1))
    assert len(statement.days) == 31
    assert sum(day.energy_wh for day in statement.days) == statement.energy_wh == 10_000
    sums = {line.key: line.value for line in statement.adds_up}
    assert sums[Sum.MAIN_METER] == sums[Sum.CHARGERS] + sums[Sum.LOSSES] == 52
    assert sums[Sum.CHARGERS] == sums[Sum.MEMBERS] + sums[Sum.GUESTS] + sums[Sum.UNKNOWN]
    assert sums[Sum.INVOICES] == Decimal("10.01")
    assert sums[Sum.GUEST_SURPLUS] == Decimal("28.00")


def test_the_same_inputs_give_the_same_bytes_also_out_of_their_text(inputs: RunInputs) -> None:
    made = draft(inputs)
    again = draft(canonical.read(RunInputs, canonical.write(inputs)))
    assert again.bodies == made.bodies
    assert [canonical.read(Statement, body) for body in made.bodies] == list(made.statements)
    other = draft(replace(inputs, supply_wh=53_000))
    assert other.bodies != made.bodies


def test_a_preview_has_no_number_and_a_credit_balance_no_due_date(inputs: RunInputs) -> None:
    rich = replace(inputs.members[0], opening_minor=-10_000)
    (statement, _) = draft(replace(inputs, numbered_from=0, members=(rich, inputs.members[1]))).statements
    assert (statement.id, statement.number, statement.sequence) == ("", "", 0)
    assert statement.due_on is None


def test_only_those_wanted_get_one(inputs: RunInputs) -> None:
    (statement,) = draft(replace(inputs, only=("b",))).statements
    assert statement.recipient.member_id == "b"
    assert statement.sequence == 1


def test_corrections_are_lines_behind_the_charges(inputs: RunInputs) -> None:
    late = Correction(
        account="b",
        period="2025-12",
        of=LineKind.SESSIONS,
        reference="spot",
        name="Spot",
        percent=Decimal(25),
        net_minor=-40,
    )
    _, statement = draft(replace(inputs, corrections=(late,))).statements
    assert [(line.number, line.kind) for line in statement.lines][-1] == (3, LineKind.CORRECTION)
    assert statement.net_minor == 2400 + 601 - 40
    assert "correction" in {each.key for each in statement.explained}


def test_costs_of_sessions_are_shares_where_members_pay_by_shares(
    inputs: RunInputs, make_part: Callable[..., Part]
) -> None:
    parts = (*inputs.parts, make_part("a", 5, 20_000, 999, flags=(Flag.LATE,)))
    month = replace(inputs, parts=parts, terms=replace(inputs.terms, members_pay_sessions=False))
    statement = draft(month).statements[0]
    shared = sum(line.net_minor for line in statement.lines)
    assert [line.cost_minor for line in statement.sessions] == [143, 286]
    assert sum(line.cost_minor for line in statement.sessions) == shared == 429


def test_numbers_and_ids() -> None:
    assert number_of("WY", 7) == "WY-00007"
    assert statement_id("yard", "WY-00007") == statement_id("yard", "WY-00007")
    assert statement_id("yard", "WY-00007") != statement_id("mill", "WY-00007")


def test_every_second_one_is_the_same_as_among_all(inputs: RunInputs) -> None:
    assert draft(inputs, every=2).bodies == draft(inputs).bodies[::2]
