"""From a recorded session to its facts, and from a bill to what is kept."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from csms.metering.series import CurvePoint
from csms.sessions.pauses import Pause
from csms.sessions.session import Session, State
from csms.tariffs.recorded import Bill, cost_of, facts_of, is_refusal, no_cost
from csms.tariffs.session_cost import Interval, Reading, session_cost
from csms.tariffs.stored import StoredTariff
from csms.tariffs.tariff import Tariff
from tests.conftest import NOON

HOUR = timedelta(hours=1)
SESSION = Session(
    id=7, station_id="YARD-01", site_id="weavers-yard", started_at=NOON, arrived_at=NOON, state=State.ENDED
)


def hour(n: float) -> datetime:
    return NOON + n * HOUR


def test_energy_stands_for_the_register_and_times_are_held_within_the_session() -> None:
    # A closing sample that came after the stop, which took 10 Wh back: in order of effect, not of time.
    curve = [
        CurvePoint(hour(-1), 500, 0),
        CurvePoint(hour(1), 1500, 1000),
        CurvePoint(hour(2.5), 30, 2000),
        CurvePoint(hour(2), 40, 2010),
    ]
    pauses = [Pause(hour(0.5), hour(1), by_us=True), Pause(hour(1), None, by_us=False)]
    facts = facts_of(SESSION, curve, pauses, hour(2))
    assert facts.registers == (
        Reading(NOON, 0),
        Reading(hour(1), 1000),
        Reading(hour(2), 2000),
        Reading(hour(2), 2010),
    )
    assert facts.paused == (Interval(hour(0.5), hour(1)),)
    assert facts.idle == (Interval(hour(1), None),)
    assert (facts.start, facts.end) == (NOON, hour(2))


def test_a_session_never_ends_before_it_starts() -> None:
    assert facts_of(SESSION, (), (), hour(-3)).end == NOON


@pytest.mark.parametrize(
    ("verdict", "energy_wh", "refusal"),
    [
        ("blocked", 0, True),
        ("unknown", 0, True),
        ("blocked", 1, False),
        ("accepted", 0, False),
        ("", 0, False),
    ],
)
def test_what_is_nothing_but_a_refusal(verdict: str, energy_wh: int, refusal: bool) -> None:
    assert is_refusal(replace(SESSION, verdict=verdict, energy_wh=energy_wh)) is refusal


def _bill(tariff: Tariff, energy_wh: int) -> Bill:
    curve = [CurvePoint(NOON, 0, 0), CurvePoint(hour(1), energy_wh, energy_wh)]
    priced = session_cost(tariff, facts_of(SESSION, curve, (), hour(1)), "Europe/Brussels")
    stored = StoredTariff(
        id="tar_1", site_id="weavers-yard", name="Yard", document={}, tariff=tariff, created_at=NOON
    )
    return Bill(tariff=stored, priced=priced, reason="the only one")


def test_a_bill_as_it_is_kept(tariff: Callable[..., Tariff]) -> None:
    """OCPI 2.2.1 mod_tariffs "Simple Tariff example 0.25 per kWh": 20 kWh cost 5.00, with 10 % VAT 5.50."""
    cost = cost_of(_bill(tariff((None, ("ENERGY", Decimal("0.25"), 1, 10))), 20_000))
    assert cost is not None
    assert (cost.tariff_id, cost.currency, cost.excl_minor, cost.incl_minor) == ("tar_1", "EUR", 500, 550)
    lines: Any = cost.lines
    assert lines["reason"] == "the only one"
    assert lines["tariff"] == "Yard"
    assert lines["vat"] == [{"vat_percent": 10.0, "net": "5.00", "vat": "0.50"}]
    [line] = lines["lines"]
    assert (line["dimension"], line["quantity"], line["cost_incl_vat"]) == ("ENERGY", "20", "5.5")
    assert line["reason"]
    assert lines["notes"] == []


def test_vat_that_is_not_told_stays_unknown(tariff: Callable[..., Tariff]) -> None:
    cost = cost_of(_bill(tariff((None, ("ENERGY", Decimal("0.25")))), 20_000))
    assert cost is not None
    assert (cost.excl_minor, cost.incl_minor) == (500, None)
    assert cost.lines["notes"] == ["the tariff names no VAT: the total with VAT is not known"]
    newer = tariff((None, ("ENERGY", Decimal("0.25"))), tax_included="YES")
    cost = cost_of(_bill(newer, 20_000))
    assert cost is not None
    assert (cost.excl_minor, cost.incl_minor) == (500, 500)
    assert "of a rate that is not told" in cost.lines["notes"][0]


def test_no_tariff_no_cost_and_a_refusal_costs_nothing() -> None:
    assert cost_of(Bill(tariff=None, priced=None, reason="none is assigned")) is None
    free = no_cost("NOK")
    assert (free.tariff_id, free.currency, free.excl_minor, free.incl_minor) == (None, "NOK", 0, 0)
    assert "refused" in free.lines["reason"]
