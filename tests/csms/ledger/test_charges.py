"""Who pays what. The month of a small garage is invented; its figures were worked out by hand."""

import json
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from csms.errors import InvalidInput
from csms.ledger.charges import (
    About,
    by_account,
    charges,
    corrections,
    energies,
    guests_income,
    guests_share,
    parts_by_account,
    rate_of,
)
from csms.ledger.inputs import ASSOCIATION, GUESTS, Cost, Fee, MemberFacts, Part, PoolFacts, RunInputs
from csms.ledger.lines import vat_of
from csms.ledger.pool import Key
from csms.ledger.statement import Issuer, LineKind
from csms.ledger.terms import Losses, Surplus

EXAMPLE = json.loads(Path(__file__).with_name("shared_cost_example.json").read_text())
RATE = Decimal(25)


def garage(inputs: RunInputs, make_part: Callable[..., Part]) -> RunInputs:
    """The whole example as inputs of a month in which members pay by shares alone."""
    kwh = {who: int(Decimal(text) * 1000) for who, text in EXAMPLE["inputs"]["kwh"].items()}
    accounts = {who: GUESTS if who == "GUEST" else who.lower() for who in kwh}
    price = Decimal(EXAMPLE["guest"]["price_ex_vat"]) * 100
    guest_net = int((price * kwh["GUEST"] / 1000).to_integral_value(rounding="ROUND_HALF_UP"))
    keys = {"kWh": Key.KWH, "equal per flat": Key.EQUAL}
    return replace(
        inputs,
        currency="EUR",
        terms=replace(inputs.terms, members_pay_sessions=False),
        members=tuple(
            MemberFacts(member_id=accounts[who], name=who, spaces=1) for who in kwh if who != "GUEST"
        ),
        parts=tuple(
            make_part(accounts[who], n, wh, guest_net if who == "GUEST" else 0)
            for n, (who, wh) in enumerate(kwh.items())
        ),
        pools=tuple(
            PoolFacts(
                id=name,
                name=name,
                supplier="",
                key=keys[EXAMPLE["inputs"]["keys"][name]],
                amount_minor=int(Decimal(amount) * 100),
                vat_minor=0,
                vat_percent=RATE,
            )
            for name, amount in EXAMPLE["pools_ex_vat"].items()
        ),
        supply_wh=int(Decimal(EXAMPLE["main_meter_kwh"]) * 1000),
    )


def test_the_garage_comes_out_to_the_cent(inputs: RunInputs, make_part: Callable[..., Part]) -> None:
    month = garage(inputs, make_part)
    tree = energies(month)
    assert tree.chargers_wh == Decimal(EXAMPLE["charger_sum_kwh"]) * 1000
    assert tree.losses_wh == Decimal(EXAMPLE["loss_kwh"]) * 1000
    found = charges(month)
    shares = [charge for charge in found if charge.about.kind is LineKind.POOL_SHARE]
    totals: dict[str, int] = {}
    for charge in shares:
        who = "GUEST" if charge.about.account == GUESTS else charge.about.account.upper()
        due = EXAMPLE["shares_cents"][charge.about.reference][who]
        assert charge.net_minor == due, (charge.about.reference, who)
        totals[who] = totals.get(who, 0) + charge.net_minor
    assert totals == EXAMPLE["total_ex_vat_cents"]
    assert sum(totals.values()) == Decimal(EXAMPLE["sum_ex_vat"]) * 100
    vat = {who: vat_of(net, RATE) for who, net in totals.items()}
    assert vat == EXAMPLE["vat_per_document_cents"]
    assert sum(vat.values()) == Decimal(EXAMPLE["vat_sum_of_documents"]) * 100
    assert guests_income(month) == Decimal(EXAMPLE["guest"]["income_ex_vat"]) * 100
    assert guests_share(found) == EXAMPLE["guest"]["cost_share_cents"]
    left = guests_income(month) - guests_share(found)
    assert left == Decimal(EXAMPLE["guest"]["surplus_ex_vat"]) * 100


def test_members_who_pay_by_shares_are_charged_no_session(
    inputs: RunInputs, make_part: Callable[..., Part]
) -> None:
    found = charges(garage(inputs, make_part))
    assert {c.about.account for c in found if c.about.kind is LineKind.SESSIONS} == {GUESTS}


def test_sessions_add_up_by_tariff_and_rate_and_credits_stand_apart(
    inputs: RunInputs, make_part: Callable[..., Part]
) -> None:
    more = (make_part("a", 4, 5_000, -200), make_part("a", 5, 1_000, 100))
    month = replace(inputs, parts=(*inputs.parts, *more), pools=())
    mine = by_account(charges(month))["a"]
    assert [(c.about.kind, c.net_minor, c.energy_wh, c.session_ids) for c in mine] == [
        (LineKind.NEGATIVE_ENERGY, -200, 5_000, (4,)),
        (LineKind.SESSIONS, 900, 11_000, (1, 5)),
    ]


def test_losses_go_by_energy_or_to_the_association(inputs: RunInputs) -> None:
    assert energies(inputs).losses_wh == 2_000
    by_energy = {c.about.account: c.net_minor for c in charges(inputs) if c.about.reference == "grid"}
    assert by_energy == {"a": 200, "b": 601, GUESTS: 200}
    borne = replace(inputs, terms=replace(inputs.terms, losses=Losses.ASSOCIATION))
    by_association = {c.about.account: c.net_minor for c in charges(borne) if c.about.reference == "grid"}
    # 10, 30, 10 and 2 of 52 kWh: 192.5, 577.5, 192.5, 38.5; two cents go to the first of equal remainders.
    assert by_association == {"a": 193, "b": 578, GUESTS: 192, ASSOCIATION: 38}


def test_energy_that_is_nobodys_is_the_associations(
    inputs: RunInputs, make_part: Callable[..., Part]
) -> None:
    month = replace(inputs, parts=(*inputs.parts, make_part("", 9, 10_000, 0)), between_wh=20_000)
    assert energies(month).unknown_wh == 30_000
    shares = {c.about.account: c.net_minor for c in charges(month) if c.about.reference == "grid"}
    assert sum(shares.values()) == 1001
    assert shares[ASSOCIATION] > shares["a"]


def test_the_surplus_of_guests_is_shared_by_energy_when_so_agreed(inputs: RunInputs) -> None:
    terms = replace(inputs.terms, surplus=Surplus.MEMBERS, vat_percent=RATE)
    found = charges(replace(inputs, terms=terms))
    back = {c.about.account: c.net_minor for c in found if c.about.kind is LineKind.GUEST_SURPLUS}
    assert back == {"a": -700, "b": -2100}
    assert sum(back.values()) == guests_share(found) - guests_income(inputs)
    poor = replace(inputs, terms=terms, parts=inputs.parts[:2])
    assert not [c for c in charges(poor) if c.about.kind is LineKind.GUEST_SURPLUS]


def test_who_is_not_registered_charges_gross_and_no_vat(inputs: RunInputs) -> None:
    month = replace(inputs, terms=replace(inputs.terms, issuer=Issuer(name="Yard")))
    found = by_account(charges(month))["a"]
    assert [(c.about.kind, c.about.percent, c.net_minor) for c in found] == [
        (LineKind.SESSIONS, None, 1000),
        (LineKind.POOL_SHARE, None, 250),
    ]


def test_vat_that_is_missing_is_named_where_it_is(inputs: RunInputs, make_part: Callable[..., Part]) -> None:
    without = make_part("a", 7, 1000, 100, costs=(Cost(None, 100, 0),))
    with pytest.raises(InvalidInput) as refused:
        charges(replace(inputs, parts=(without,)))
    assert refused.value.field == "tariffs.spot.vat"
    agreed = replace(inputs, parts=(without,), terms=replace(inputs.terms, vat_percent=Decimal("25.00")))
    assert charges(agreed)[0].about.percent == Decimal(25)
    assert rate_of(Decimal("100.0"), inputs, "x") == 100


def test_fees_are_charges_with_their_quantity(inputs: RunInputs) -> None:
    fee = Fee(
        account="a",
        kind=LineKind.MONTHLY_FEE,
        tariff_id="spot/Meter",
        name="Meter",
        quantity=Decimal("0.5"),
        net_minor=1450,
        percent=RATE,
    )
    found = charges(replace(inputs, fees=(fee,), parts=(), pools=()))
    assert [(c.about.reference, c.net_minor, c.quantity) for c in found] == [
        ("spot/Meter", 1450, Decimal("0.5"))
    ]


def test_a_correction_is_what_is_due_less_what_is_booked(inputs: RunInputs) -> None:
    now = charges(inputs)
    booked = {charge.about: charge.net_minor for charge in now}
    assert corrections("2026-01", now, booked, {}) == ()
    gone = About("b", LineKind.POOL_SHARE, "old", RATE)
    booked |= {now[0].about: now[0].net_minor - 55, gone: 120}
    found = corrections("2026-01", now, booked, {"old": "Old invoice"})
    assert [(c.account, c.of, c.reference, c.name, c.net_minor) for c in found] == [
        ("a", LineKind.SESSIONS, "spot", "Spot", 55),
        ("b", LineKind.POOL_SHARE, "old", "Old invoice", -120),
    ]


def test_parts_are_sorted_out_by_time(inputs: RunInputs, make_part: Callable[..., Part]) -> None:
    found = parts_by_account((make_part("a", 9, 1, 1), make_part("a", 2, 1, 1)))
    assert [part.session_id for part in found["a"]] == [2, 9]
