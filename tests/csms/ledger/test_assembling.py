"""Rows of a month to parts. The session over the month's end is the invented example's."""

import json
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from csms.access.ownerships.ownership import Ownership, Thing
from csms.ledger.assembling import Assembled, Rows, assemble
from csms.ledger.inputs import GUESTS, Cost
from csms.ledger.owners import Owners
from csms.ledger.period import Month, midnight
from csms.ledger.registers import SessionRow
from csms.ledger.repricing import Repricer
from csms.ledger.statement import Flag
from csms.tariffs.parsing import parse_tariff
from csms.tariffs.stored import StoredTariff

EXAMPLE = json.loads(Path(__file__).with_name("shared_cost_example.json").read_text())["month_end_session"]
OSLO = ZoneInfo("Europe/Oslo")
NOW = datetime(2026, 3, 3, tzinfo=UTC)
DOCUMENT: dict[str, Any] = {
    "currency": "NOK",
    "elements": [
        {
            "price_components": [
                {"type": "ENERGY", "price": 2, "vat": 25, "step_size": 1},
                {"type": "FLAT", "price": 5, "vat": 25, "step_size": 1},
            ]
        }
    ],
}
TARIFF = StoredTariff(
    id="t",
    site_id="yard",
    name="Two",
    document=DOCUMENT,
    tariff=parse_tariff(DOCUMENT, "t"),
    created_at=NOW,
)


def second(text: str) -> int:
    return int(datetime.fromisoformat(text).timestamp())


START, STOP = second(EXAMPLE["start"]), second(EXAMPLE["stop"])
FIRST, MIDDLE, LAST = (int(Decimal(wh) * 1000) for wh in EXAMPLE["register_kwh"].values())
MIDNIGHT = second("2026-02-01T00:00:00+01:00")
ROW = SessionRow(
    id=7,
    station_id="bay",
    evse=1,
    token_id="tok",
    token_text="TOK",
    member_id="a",
    known=True,
    started=START,
    ended=STOP,
    arrived=START,
    register_start_wh=FIRST,
    register_stop_wh=LAST,
    energy_wh=LAST - FIRST,
    marked=False,
    tariff_id="t",
    tariff="Two",
    cost_excl_minor=4700,
    cost_incl_minor=5875,
)


def month(
    number: int,
    *rows: SessionRow,
    told: dict[int, list[tuple[int, int]]] | None = None,
    owned: tuple[Ownership, ...] = (),
    peak: bool = False,
) -> Assembled:
    made = Rows(
        sessions=rows,
        before=(),
        told={7: [(MIDNIGHT, MIDDLE)]} if told is None else told,
        stations={"bay": ("Bay 1", 22_000.0)},
        labels={"tok": "Card"},
    )
    repricer = Repricer(tariffs={"t": TARIFF}, market={}, zone=OSLO)
    return assemble(made, Month(2026, number), OSLO, Owners.of("ab", owned), repricer, NOW, peak=peak)


def test_a_session_over_the_months_end_is_in_both_by_its_register_and_its_fee_in_the_first() -> None:
    (january,), (february,) = month(1, ROW).parts, month(2, ROW).parts
    assert january.energy_wh == Decimal(EXAMPLE["january_kwh"]) * 1000
    assert february.energy_wh == Decimal(EXAMPLE["february_kwh"]) * 1000
    assert january.energy_wh + february.energy_wh == Decimal(EXAMPLE["sum"]) * 1000
    assert (january.register_stop_wh, february.register_start_wh) == (MIDDLE, MIDDLE)
    assert january.flags == february.flags == (Flag.SPLIT,)
    assert january.costs == (Cost(Decimal(25), 2480 + 500, 745),)
    assert february.costs == (Cost(Decimal(25), 1720, 430),)
    assert [day.day for day in january.days] == [date(2026, 1, 31)]
    assert (january.station, january.token, january.account) == ("Bay 1", "Card", "a")


def test_without_a_reading_at_midnight_it_is_interpolated_and_marked() -> None:
    (january,) = month(1, ROW, told={}).parts
    assert january.energy_wh == (LAST - FIRST) // 2
    assert Flag.INTERPOLATED in january.flags


def test_a_change_of_hands_cuts_at_its_instant() -> None:
    moved = datetime.fromtimestamp(MIDNIGHT, UTC)
    owned = (
        Ownership(id="1", site_id="y", thing=Thing("tok"), member_id="a", to_at=moved, created_at=NOW),
        Ownership(id="2", site_id="y", thing=Thing("tok"), member_id="b", from_at=moved, created_at=NOW),
    )
    assert [part.account for part in month(1, ROW, owned=owned).parts] == ["a"]
    assert [part.account for part in month(2, ROW, owned=owned).parts] == ["b"]


def test_a_whole_session_costs_what_it_was_priced_at_and_is_priced_again_for_the_proof() -> None:
    inside = replace(ROW, started=START - 86_400, ended=STOP - 86_400)
    made = month(1, inside, told={7: []})
    (part,) = made.parts
    assert part.costs == (Cost(Decimal(25), 4700, 1175),)
    assert [day.energy_wh for day in part.days] == [10_500, 10_500]
    (again,) = made.repriced
    assert (again.booked_minor, again.again_minor) == (4700, 4700)
    (wrong,) = month(1, replace(inside, cost_excl_minor=4699), told={7: []}).repriced
    assert wrong.booked_minor != wrong.again_minor


def test_what_has_no_price_or_no_owner_is_told() -> None:
    made = month(2, replace(ROW, tariff_id=None, cost_excl_minor=None, member_id=None, token_id=None))
    assert made.unpriced == {7: "it has not been priced"}
    assert made.parts[0].account == GUESTS
    assert Flag.PRICE_MISSING in made.parts[0].flags
    unknown = month(2, replace(ROW, member_id=None, token_id=None, known=False))
    assert unknown.parts[0].account == ""


def test_what_came_after_the_month_is_marked_as_late() -> None:
    early = replace(ROW, started=START - 86_400, ended=STOP - 86_400, arrived=MIDNIGHT + 5)
    assert Flag.LATE in month(1, early, told={7: []}).parts[0].flags


def test_the_hour_of_most_power_and_who_drew_it() -> None:
    other = replace(ROW, id=8, station_id="van", token_id=None, member_id="b", energy_wh=3000)
    other = replace(other, register_start_wh=0, register_stop_wh=3000, ended=START + 3600)
    made = month(1, ROW, other, peak=True)
    assert made.peak_at == datetime.fromtimestamp(START, UTC)
    assert made.peak_wh == {"a": 6200, "b": 3000}
    assert month(1, peak=True).peak_at is None


def test_edges_of_a_month_are_local_midnights() -> None:
    assert int(midnight(date(2026, 2, 1), OSLO).timestamp()) == MIDNIGHT
