from datetime import UTC, datetime
from typing import Any

import pytest

from csms.ocpp.adapter import adapter_for
from csms.ocpp.quirks import put_right
from csms.ocpp.version import Version
from csms.stations.events import MetersReported
from csms.stations.quirks.quirk import Quirk

NOW = datetime(2026, 11, 12, 18, 30, tzinfo=UTC)
ENERGY = "Energy.Active.Import.Register"


def test_a_scaled_sample_stands_beside_what_was_told_and_both_are_read() -> None:
    told = {
        "connectorId": 1,
        "meterValue": [{"timestamp": "2026-11-12T18:00:00Z", "sampledValue": [{"value": "12.5"}]}],
    }
    quirk = Quirk(id=4, vendor="Weir", energy_factor=1000.0)
    mended, notes = put_right(told, quirk)
    assert mended["meterValue"][0]["sampledValue"] == [
        {"value": "12500"},
        {"value": "12.5", "measurand": f"{ENERGY}/told"},
    ]
    assert notes == (f"{ENERGY}: '12.5' was told; times 1000 by quirk 4",)
    assert told["meterValue"][0]["sampledValue"] == [{"value": "12.5"}], "the original is as it was"  # type: ignore[index]
    event = adapter_for(Version.OCPP16).inbound("MeterValues", mended, NOW)
    assert isinstance(event, MetersReported)
    (reading,) = event.readings
    assert reading.register_wh == 12_500
    assert [(other[0], other[3]) for other in reading.others] == [(f"{ENERGY}/told", "12.5")]


@pytest.mark.parametrize(
    ("sample", "value"),
    [
        ({"value": "16", "measurand": "Power.Active.Import"}, "3680"),
        ({"value": 16, "measurand": "Power.Active.Import", "phase": "L1"}, 3680),
        ({"value": "1600", "measurand": "Current.Import"}, "16"),
        ({"value": "16", "measurand": "Voltage"}, "16"),
        ({"value": "many", "measurand": "Power.Active.Import"}, "many"),
        ({"value": True, "measurand": "Power.Active.Import"}, True),
        ({"value": "1e400", "measurand": "Power.Active.Import"}, "1e400"),
        ({"value": "aGVsbG8=", "format": "SignedData", "measurand": "Power.Active.Import"}, "aGVsbG8="),
        ({"value": 16, "measurand": "Power.Active.Import", "signedMeterValue": {}}, 16),
    ],
)
def test_only_numbers_of_that_quantity_are_scaled(sample: dict[str, Any], value: Any) -> None:
    quirk = Quirk(vendor="Weir", power_factor=230.0, current_factor=0.01)
    mended, _ = put_right({"meterValue": [{"sampledValue": [sample]}]}, quirk)
    assert mended["meterValue"][0]["sampledValue"][0]["value"] == value


@pytest.mark.parametrize("odd", [None, 7, "x", [None], [7], [["x"]]])
def test_nonsense_where_samples_belong_stays_nonsense(odd: Any) -> None:
    told = {"meterValue": [{"sampledValue": odd}], "meterStart": None, "timestamp": 7}
    assert put_right(told, Quirk(vendor="Weir", energy_factor=2.0, zone="UTC"))[0] == told


def test_start_and_stop_registers_are_scaled() -> None:
    mended, notes = put_right(
        {"meterStart": 700, "meterStop": 705.5}, Quirk(vendor="W", energy_factor=1000.0)
    )
    assert mended == {"meterStart": 700_000, "meterStop": 705_500}
    assert len(notes) == 2


@pytest.mark.parametrize(
    ("told", "false_z", "meant"),
    [
        ("2026-11-12T19:30:00", False, "2026-11-12T18:30:00.000Z"),
        ("2026-07-12 19:30:00", False, "2026-07-12T17:30:00.000Z"),
        ("2026-11-12T19:30:00Z", True, "2026-11-12T18:30:00.000Z"),
        ("2026-11-12T19:30:00Z", False, "2026-11-12T19:30:00Z"),
        ("2026-11-12T19:30:00+02:00", True, "2026-11-12T19:30:00+02:00"),
        ("2026-11-12T19:30:00-02:00", True, "2026-11-12T19:30:00-02:00"),
        ("soon", True, "soon"),
        ("", True, ""),
    ],
)
def test_times_of_the_zone(told: str, false_z: bool, meant: str) -> None:
    """Amsterdam is an hour ahead of UTC in winter and two in summer (common knowledge)."""
    quirk = Quirk(vendor="Weir", zone="Europe/Amsterdam", false_z=false_z)
    assert put_right({"timestamp": told}, quirk)[0] == {"timestamp": meant}
