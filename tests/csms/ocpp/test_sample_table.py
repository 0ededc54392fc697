"""Which of several samples a reading shows."""

from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import pytest

from csms.ocpp.quantities import CURRENT, ENERGY, HEAT, POWER, Place, Units
from csms.ocpp.sample_table import LARGEST, SampleTable, magnitude, unit_of
from csms.stations.model import Reading, ReadingContext
from csms.stations.signed import SignedValue

AT = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)


def sample(**parts: Any) -> dict[str, Any]:
    return {"value": "1", **parts}


def reading(**values: Any) -> Reading:
    table = SampleTable(AT, ReadingContext.PERIODIC)
    for name, value in values.items():
        table.keep(Place[name], value, 0, sample(measurand=name))
    return table.reading()


@pytest.mark.parametrize(
    ("value", "place", "units", "unit", "power", "ours"),
    [
        ("1204.5", Place.REGISTER, ENERGY, "kWh", 0, Decimal("1204500.0")),
        (1204.1, Place.REGISTER, ENERGY, "kWh", 0, Decimal("1204100.0")),
        ("0.1", Place.REGISTER, ENERGY, "Wh", 3, Decimal("100")),
        ("1,5", Place.REGISTER, ENERGY, "kWh", 0, Decimal("1500")),
        ("\x0012 ", Place.REGISTER, ENERGY, None, 0, Decimal(12)),
        (11.04, Place.POWER, POWER, "kW", 0, 11040.0),
        (11.04, Place.POWER, POWER, "kVA", 0, 11040.0),
        (2301, Place.VOLTAGE, POWER, "W", -1, 230.1),
        ("230,1", Place.VOLTAGE, POWER, "W", 0, 230.1),
        ("15900", Place.CURRENT, CURRENT, "mA", 0, pytest.approx(15.9)),
        ("300.15", Place.TEMPERATURE, HEAT, "K", 0, pytest.approx(27.0)),
        ("98.6", Place.TEMPERATURE, HEAT, "Fahrenheit", 0, pytest.approx(37.0)),
        ("-40", Place.TEMPERATURE, HEAT, "Fahrenheit", 0, pytest.approx(-40.0)),
    ],
)
def test_values_in_our_units(
    value: object, place: Place, units: Units, unit: str | None, power: int, ours: object
) -> None:
    """98.6 °F = 37 °C, -40 °F = -40 °C, 0 °C = 273.15 K (BIPM, SI brochure; NIST SP 811)."""
    assert magnitude(value, place, units[unit], power) == ours


@pytest.mark.parametrize("place", [Place.REGISTER, Place.POWER])
@pytest.mark.parametrize(
    "value", ["", "n/a", "NaN", "inf", "1e999999999", None, True, [1], {"a": 1}, LARGEST, -1e300, "1,2,3"]
)
def test_what_is_no_possible_number(value: object, place: Place) -> None:
    assert magnitude(value, place, None, 0) is None


def test_units_of_2_x() -> None:
    assert unit_of(sample(unitOfMeasure={"unit": "Wh", "multiplier": 3})) == ("Wh", 3)
    assert unit_of(sample(unitOfMeasure={"multiplier": 3.0})) == (None, 3)
    assert unit_of(sample(unitOfMeasure={"unit": "Wh", "multiplier": 99})) == ("Wh, multiplier 99", 0)
    assert unit_of(sample(unitOfMeasure="Wh")) == (None, 0)


def test_the_overall_value_wins_over_the_sum() -> None:
    seen = reading(REGISTER=Decimal("100.5"), REGISTER_L1=Decimal(1), POWER=700.0, POWER_L1=300.0)
    assert (seen.register_wh, seen.power_w, seen.line_power_w) == (101, 700.0, (300.0, None, None))


def test_without_it_the_lines_are_summed() -> None:
    """Each register is rounded after the sum, not before."""
    seen = reading(
        REGISTER_L1=Decimal("0.4"),
        REGISTER_L2=Decimal("0.4"),
        REGISTER_L3=Decimal("0.4"),
        POWER_L1=1.5,
        POWER_L3=2.5,
    )
    assert (seen.register_wh, seen.power_w) == (1, 4.0)


def test_a_current_without_a_line_is_l1s_unless_lines_are_given() -> None:
    assert reading(CURRENT=16.0).current_a == (16.0, None, None)
    seen = reading(CURRENT=48.0, CURRENT_L1=16.0, CURRENT_L2=16.0, CURRENT_L3=0.0)
    assert seen.current_a == (16.0, 16.0, 0.0)
    assert seen.others == (("CURRENT", "", "", "1"),)


def test_the_offer_is_the_highest_of_the_lines() -> None:
    assert reading(OFFERED_L1=6.0, OFFERED_L2=16.0).offered_a == 16.0
    assert reading(OFFERED=10.0, OFFERED_L2=16.0).offered_a == 10.0
    assert reading(POWER=1.0).offered_a is None


def test_line_to_line_voltages_count_where_there_is_no_neutral() -> None:
    """230 V delta against 400 V star (EN 50160, IEC 60038)."""
    assert reading(VOLTAGE_L12=231.0, VOLTAGE_L31=229.0).voltage_v == (231.0, None, 229.0)
    star = reading(VOLTAGE_L12=400.0, VOLTAGE_L23=401.0)
    assert star.voltage_v == (None, None, None)
    assert [other[0] for other in star.others] == ["VOLTAGE_L12", "VOLTAGE_L23"]
    both = reading(VOLTAGE_L1=230.0, VOLTAGE_L12=231.0)
    assert both.voltage_v == (230.0, None, None)
    assert [other[0] for other in both.others] == ["VOLTAGE_L12"]


def test_the_better_place_of_measurement_wins_whatever_the_order() -> None:
    inlet, outlet = sample(location="Inlet", value="9"), sample(location="Outlet", value="8")
    for order in ([(9.0, 3, inlet), (8.0, 0, outlet)], [(8.0, 0, outlet), (9.0, 3, inlet)]):
        table = SampleTable(AT, ReadingContext.PERIODIC)
        for value, rank, one in order:
            table.keep(Place.POWER, value, rank, one)
        seen = table.reading()
        assert seen.power_w == 8.0
        assert seen.others == (("Energy.Active.Import.Register@Inlet", "", "", "9"),)


def test_a_second_value_of_one_key_is_kept_aside_if_it_differs() -> None:
    table = SampleTable(AT, ReadingContext.PERIODIC)
    for value in (5.0, 5.0, 6.0):
        table.keep(Place.SOC, value, 0, sample(measurand="SoC", value=value))
    assert table.reading().soc_percent == 5.0
    assert table.reading().others == (("SoC", "", "", "6"),)


def test_an_empty_table_says_so() -> None:
    table = SampleTable(AT, ReadingContext.PERIODIC)
    assert not table.filled
    table.signed.append(SignedValue("", ""))
    assert table.filled
