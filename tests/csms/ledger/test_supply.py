"""The main meter's registers."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from csms.errors import InvalidInput
from csms.ledger.supply import SupplyEnergy, SupplyGap, SupplyRegister, check_register, supply_energy

START = datetime(2026, 1, 1, tzinfo=UTC)
END = datetime(2026, 2, 1, tzinfo=UTC)


def read(at: datetime, register_wh: int, serial: str = "EV-1") -> SupplyRegister:
    return SupplyRegister(
        id="r", site_id="yard", serial=serial, at=at, register_wh=register_wh, created_at=at
    )


def test_readings_at_the_edges_are_exact() -> None:
    assert supply_energy([read(END, 1500), read(START, 500)], START, END) == SupplyEnergy(1000, False)
    assert supply_energy([], START, END) is None


def test_readings_beside_the_edges_are_interpolated_and_marked() -> None:
    before, after = START - timedelta(days=1), END + timedelta(days=1)
    found = supply_energy([read(before, 0), read(after, 33_000)], START, END)
    assert found == SupplyEnergy(31_000, True)


def test_a_changed_meter_goes_on_where_the_old_one_stopped() -> None:
    swap = START + timedelta(days=10)
    readings = [read(START, 900), read(swap, 1000), read(swap, 5, "EV-2"), read(END, 45, "EV-2")]
    assert supply_energy(readings, START, END) == SupplyEnergy(140, False)


@pytest.mark.parametrize(
    ("readings", "words"), [([read(START, 1)], "at or after"), ([read(END, 1)], "at or before")]
)
def test_readings_that_do_not_cover_the_month_are_missed(readings: list[SupplyRegister], words: str) -> None:
    with pytest.raises(SupplyGap, match=words):
        supply_energy(readings, START, END)


def test_a_register_does_not_run_backwards_but_a_new_meter_may_begin_low() -> None:
    there = [read(START, 900), read(END, 1500)]
    for wrong, field in (
        (read(START, 901), "at"),
        (read(END + timedelta(days=1), 1499), "register_wh"),
        (read(START - timedelta(days=1), 901), "register_wh"),
        (read(END + timedelta(days=1), -1), "register_wh"),
        (replace(read(END, 1), at=datetime(2026, 1, 1)), "at"),  # noqa: DTZ001
        (read(END + timedelta(days=1), 1600, " "), "serial"),
    ):
        with pytest.raises(InvalidInput) as refused:
            check_register(wrong, there)
        assert refused.value.field == field
    assert check_register(read(END, 0, "EV-2"), there).serial == "EV-2"
    assert check_register(read(END + timedelta(days=1), 1500), there).register_wh == 1500
