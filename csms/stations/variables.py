"""A station's variables that we know by meaning, and where it keeps them (see `VariableValue.path`).

OCPP 1.6: configuration keys, edition 2 chapter 9. OCPP 2.x: components and variables of the device model.
"""

from collections.abc import Mapping
from enum import StrEnum


class Meaning(StrEnum):
    """What a variable says. SAMPLE_INTERVAL: seconds between readings in a charge; SAMPLED: what is in
    them, comma separated; LINE_CHOICE: whether a car on one line is put on the line that we name."""

    SAMPLE_INTERVAL = "sample_interval"
    SAMPLED = "sampled"
    LINE_CHOICE = "line_choice"


CURRENTS = "Current.Import"
"""In SAMPLED: the currents that the car draws, by line."""

_1_6: Mapping[Meaning, str] = {
    Meaning.SAMPLE_INTERVAL: "/MeterValueSampleInterval",
    Meaning.SAMPLED: "/MeterValuesSampledData",
}
_2_X: Mapping[Meaning, str] = {
    Meaning.SAMPLE_INTERVAL: "SampledDataCtrlr/TxUpdatedInterval",
    Meaning.SAMPLED: "SampledDataCtrlr/TxUpdatedMeasurands",
    Meaning.LINE_CHOICE: "SmartChargingCtrlr/ACPhaseSwitchingSupported",
}


def path_of(meaning: Meaning, protocol: str, evse: int | None = None) -> str | None:
    """Where a station that speaks `protocol` (as in its record, e.g. 2.0.1) keeps it; None: it has no such
    thing. `evse`: of that one."""
    paths = _1_6 if protocol == "1.6" else _2_X
    path = paths.get(meaning)
    if path is None or evse is None:
        return path
    component, _, variable = path.partition("/")
    return f"{component}@{evse}/{variable}" if component else path
