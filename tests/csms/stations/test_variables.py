import pytest

from csms.stations.variables import Meaning, path_of


@pytest.mark.parametrize(
    ("meaning", "protocol", "evse", "path"),
    [
        (Meaning.SAMPLE_INTERVAL, "1.6", None, "/MeterValueSampleInterval"),
        (Meaning.SAMPLE_INTERVAL, "1.6", 1, "/MeterValueSampleInterval"),  # a key has no EVSE
        (Meaning.SAMPLED, "1.6", None, "/MeterValuesSampledData"),
        (Meaning.LINE_CHOICE, "1.6", None, None),
        (Meaning.SAMPLE_INTERVAL, "2.0.1", None, "SampledDataCtrlr/TxUpdatedInterval"),
        (Meaning.SAMPLED, "2.1", None, "SampledDataCtrlr/TxUpdatedMeasurands"),
        (Meaning.LINE_CHOICE, "2.0.1", 2, "SmartChargingCtrlr@2/ACPhaseSwitchingSupported"),
    ],
)
def test_where_a_station_keeps_it(
    meaning: Meaning, protocol: str, evse: int | None, path: str | None
) -> None:
    assert path_of(meaning, protocol, evse) == path
