"""Readings from meter values: nothing that can be read is lost."""

from datetime import UTC, datetime, timedelta
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from csms.ocpp.fields import Notes
from csms.ocpp.sampled import readings
from csms.stations.model import Reading, ReadingContext

AT = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
ARRIVED = AT + timedelta(seconds=2)

ANY_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=3),
    max_leaves=6,
)


def read(*samples: Any) -> tuple[tuple[Reading, ...], tuple[str, ...]]:
    notes = Notes()
    value = [{"timestamp": "2026-03-02T07:30:00Z", "sampledValue": list(samples)}]
    return readings(value, ARRIVED, notes), notes.texts()


def one(*samples: Any) -> Reading:
    found, notes = read(*samples)
    assert notes == ()
    assert len(found) == 1
    return found[0]


def test_a_bare_value_is_a_periodic_register_in_wh() -> None:
    """Defaults of OCPP 1.6 section 7.43 (SampledValue)."""
    assert one({"value": "1204.5"}) == Reading(AT, register_wh=1205)


def test_samples_of_one_measurand_are_kept_apart_by_context_phase_and_location() -> None:
    found, notes = read(
        {"value": "10", "measurand": "Current.Import", "phase": "L1"},
        {"value": "11", "measurand": "Current.Import", "phase": "L2"},
        {"value": "12", "measurand": "Current.Import", "phase": "L1", "location": "Inlet"},
        {"value": "13", "measurand": "Current.Import", "phase": "L1", "context": "Transaction.End"},
    )
    assert notes == ()
    assert found == (
        Reading(AT, current_a=(10.0, 11.0, None), others=(("Current.Import@Inlet", "L1", "", "12"),)),
        Reading(AT, ReadingContext.END, current_a=(13.0, None, None)),
    )


def test_the_value_without_phase_is_taken_before_the_sum() -> None:
    lines = [{"value": str(value), "phase": f"L{n}", "unit": "kWh"} for n, value in enumerate((1, 2, 3), 1)]
    assert one(*lines).register_wh == 6000
    assert one(*lines, {"value": "7", "unit": "kWh"}).register_wh == 7000
    assert one({"value": "7", "unit": "kWh"}, *lines).register_wh == 7000


def test_voltages_to_neutral_in_both_spellings() -> None:
    for ending in ("", "-N"):
        volts = [{"value": 230 + n, "measurand": "Voltage", "phase": f"L{n}{ending}"} for n in (1, 2, 3)]
        assert one(*volts).voltage_v == (231.0, 232.0, 233.0)


def test_one_instant_told_in_pieces_makes_one_reading() -> None:
    notes = Notes()
    pieces = [
        {"timestamp": "2026-03-02T07:30:00Z", "sampledValue": [{"value": "5"}]},
        {"timestamp": "2026-03-02T08:30:00+01:00", "sampledValue": [{"value": "7", "measurand": "SoC"}]},
        {"timestamp": "2026-03-02T07:31:00Z", "sampledValue": [{"value": "6"}]},
    ]
    assert readings(pieces, ARRIVED, notes) == (
        Reading(AT, register_wh=5, soc_percent=7.0),
        Reading(AT + timedelta(minutes=1), register_wh=6),
    )


def test_the_state_of_charge_is_the_cars() -> None:
    seen = one({"value": "40", "measurand": "SoC", "location": "EV"}, {"value": "41", "measurand": "SoC"})
    assert seen.soc_percent == 40.0
    assert seen.others == (("SoC", "", "", "41"),)


def test_quantities_without_a_place_stay_in_the_senders_words() -> None:
    seen = one(
        {"value": "3", "measurand": "Energy.Active.Export.Register", "unit": "kWh", "location": "Inlet"},
        {"value": "0.98", "measurand": "Power.Factor", "phase": "L1"},
        {"value": "0.2", "measurand": "Current.Import", "phase": "N", "unit": "A"},
    )
    assert seen.others == (
        ("Energy.Active.Export.Register@Inlet", "", "kWh", "3"),
        ("Power.Factor", "L1", "", "0.98"),
        ("Current.Import", "N", "A", "0.2"),
    )
    assert seen.current_a == (None, None, None)


def test_several_signed_values_are_all_kept() -> None:
    seen = one(
        {"value": "aa", "format": "SignedData"},
        {"value": "aa", "format": "SignedData"},
        {"value": "b\0b ", "format": "SignedData", "measurand": "SoC"},
    )
    assert [value.received for value in seen.signed] == ["aa", "bb "]
    assert seen.others == ()


def test_a_false_value_is_noted_and_the_rest_is_kept() -> None:
    found, notes = read(
        {"value": "n/a"},
        {"measurand": "SoC"},
        {"value": "7", "measurand": ["SoC"]},
        {"value": "7", "measurand": "Voltage", "phase": "L9"},
        {"value": "7", "measurand": "Voltage", "unit": "Wh"},
        {"value": "7", "measurand": "SoC", "context": "Lunch"},
        "x",
        {"value": "230", "measurand": "Voltage", "phase": "L1"},
    )
    assert found == (
        Reading(
            AT,
            voltage_v=(230.0, None, None),
            others=(("Voltage", "L9", "", "7"), ("Voltage", "", "Wh", "7")),
        ),
        Reading(AT, ReadingContext.OTHER, soc_percent=7.0),
    )
    assert notes == (
        "meterValue[0].sampledValue[0].value: 'n/a' is no possible number",
        "meterValue[0].sampledValue[1].value: None is no possible number",
        "meterValue[0].sampledValue[2]: is no sampled value",
        "meterValue[0].sampledValue[3].phase: 'L9' is not of the standard",
        "meterValue[0].sampledValue[4].unit: 'wh' does not fit 'Voltage'",
        "meterValue[0].sampledValue[5].context: 'Lunch' is not of the standard",
        "meterValue[0].sampledValue[6]: is no sampled value",
    )


def test_a_false_time_becomes_that_of_arrival() -> None:
    notes = Notes()
    found = readings(
        [{"timestamp": "soon", "sampledValue": [{"value": "5"}]}], ARRIVED, notes, "transactionData"
    )
    assert found == (Reading(ARRIVED, register_wh=5),)
    assert notes.texts()[0].startswith("transactionData[0].timestamp: 'soon' is no ISO 8601 time")
    assert notes.texts()[0].endswith("the time of arrival is taken")


def test_shapes_that_are_no_lists() -> None:
    notes = Notes()
    single = {"timestamp": "2026-03-02T07:30:00Z", "sampledValue": {"value": "5"}}
    assert readings(single, ARRIVED, notes) == (Reading(AT, register_wh=5),)
    assert (
        readings(None, ARRIVED, notes) == readings([], ARRIVED, notes) == readings("x", ARRIVED, notes) == ()
    )
    assert readings([7, {"sampledValue": []}], ARRIVED, notes) == ()


@given(
    st.lists(
        ANY_JSON
        | st.dictionaries(st.sampled_from(["value", "measurand", "unit", "phase", "context"]), ANY_JSON)
    )
)
def test_no_samples_make_it_raise_or_lose_the_good_one(samples: list[Any]) -> None:
    good = {"value": "4711", "measurand": "Energy.Active.Import.Register", "context": "Transaction.End"}
    found, _ = read(good, *samples)
    assert any(reading.register_wh == 4711 and reading.context is ReadingContext.END for reading in found)
