"""Where a sampled value goes: measurand, phase and unit to a place of the wide `Reading`.

All look-ups are dicts made once, since a station in charge sends a dozen values a minute.
Sources: OCPP 1.6 sections 7.31 to 7.45 with errata, OCPP 2.0.1 Part 2 MeasurandEnumType; units
that the standard does not list (MWh, mA, %) but stations send are common practice.
"""

from collections.abc import Mapping
from decimal import Decimal
from enum import IntEnum
from typing import Final, NamedTuple

from csms.stations.model import ReadingContext

REGISTER: Final = "Energy.Active.Import.Register"
"""The measurand where none is given."""


class Place(IntEnum):
    """A cell of the table that a reading is made from."""

    REGISTER = 0
    REGISTER_L1 = 1
    REGISTER_L2 = 2
    REGISTER_L3 = 3
    POWER = 4
    POWER_L1 = 5
    POWER_L2 = 6
    POWER_L3 = 7
    CURRENT = 8
    CURRENT_L1 = 9
    CURRENT_L2 = 10
    CURRENT_L3 = 11
    VOLTAGE = 12
    VOLTAGE_L1 = 13
    VOLTAGE_L2 = 14
    VOLTAGE_L3 = 15
    VOLTAGE_L12 = 16
    VOLTAGE_L23 = 17
    VOLTAGE_L31 = 18
    OFFERED = 19
    OFFERED_L1 = 20
    OFFERED_L2 = 21
    OFFERED_L3 = 22
    TEMPERATURE = 23
    SOC = 24


PLACES: Final = len(Place)

LAST_REGISTER: Final = 3
"""Places up to this one hold registers, which are kept exact (Decimal)."""


class Scale(NamedTuple):
    """Ours = theirs * factor + offset."""

    factor: float
    offset: float = 0.0
    exact: Decimal = Decimal(1)


_THOUSAND: Final = Scale(1e3, exact=Decimal(1000))
_MILLION: Final = Scale(1e6, exact=Decimal(1000000))
_THOUSANDTH: Final = Scale(1e-3)

Units = Mapping[str | None, Scale | None]
"""Unit -> its scale, None for our own; the small-letter spelling of each unit is among the keys."""


def _units(scales: dict[str, Scale | None]) -> Units:
    """With the absent unit, which is ours, and the small-letter spellings."""
    units: dict[str | None, Scale | None] = {None: None, "": None}
    units |= {unit.lower(): scale for unit, scale in scales.items()}
    return units | scales


ENERGY: Units = _units({"Wh": None, "kWh": _THOUSAND, "MWh": _MILLION})
POWER: Units = _units({"W": None, "VA": None, "kW": _THOUSAND, "kVA": _THOUSAND})
CURRENT: Units = _units({"A": None, "mA": _THOUSANDTH})
VOLTAGE: Units = _units({"V": None, "mV": _THOUSANDTH, "kV": _THOUSAND})
HEAT: Units = _units(
    {
        "Celsius": None,
        "Celcius": None,
        "C": None,
        "°C": None,
        "K": Scale(1.0, -273.15),
        "Fahrenheit": Scale(1 / 1.8, -32 / 1.8),
    }
)
SHARE: Units = _units({"Percent": None, "%": None})

_LINES = (("L1", "L1-N"), ("L2", "L2-N"), ("L3", "L3-N"))

Cells = Mapping[str | None, tuple[int, Units]]
"""Phase -> (place, units); the places are plain numbers, which are faster than members."""


def _cells(units: Units, first: Place, lines: bool = True) -> Cells:
    """Phase -> place, for a quantity whose overall value has place `first` and its lines the next three."""
    cells: dict[str | None, tuple[int, Units]] = {None: (int(first), units), "": (int(first), units)}
    if lines:
        for step, phases in enumerate(_LINES, start=1):
            cells |= dict.fromkeys(phases, (first + step, units))
    return cells


CELLS: Mapping[str, Cells] = {
    REGISTER: _cells(ENERGY, Place.REGISTER),
    "Power.Active.Import": _cells(POWER, Place.POWER),
    "Current.Import": _cells(CURRENT, Place.CURRENT),
    "Voltage": {
        **_cells(VOLTAGE, Place.VOLTAGE),
        "L1-L2": (int(Place.VOLTAGE_L12), VOLTAGE),
        "L2-L3": (int(Place.VOLTAGE_L23), VOLTAGE),
        "L3-L1": (int(Place.VOLTAGE_L31), VOLTAGE),
    },
    "Current.Offered": _cells(CURRENT, Place.OFFERED),
    "Temperature": _cells(HEAT, Place.TEMPERATURE, lines=False),
    "SoC": _cells(SHARE, Place.SOC, lines=False),
}
"""Measurand -> phase -> (place, units). What is not here is kept among a reading's `others`."""

STANDARD_OTHERS: frozenset[str] = frozenset(
    {
        "Current.Export",
        "Energy.Active.Export.Register",
        "Energy.Active.Export.Interval",
        "Energy.Active.Import.Interval",
        "Energy.Active.Net",
        "Energy.Reactive.Export.Register",
        "Energy.Reactive.Import.Register",
        "Energy.Reactive.Export.Interval",
        "Energy.Reactive.Import.Interval",
        "Energy.Reactive.Net",
        "Energy.Apparent.Net",
        "Energy.Apparent.Import",
        "Energy.Apparent.Export",
        "Power.Active.Export",
        "Power.Reactive.Export",
        "Power.Reactive.Import",
        "Power.Factor",
        "Power.Offered",
        "Frequency",
        "RPM",
        # OCPP 2.1
        "Current.Export.Minimum",
        "Current.Export.Offered",
        "Current.Import.Minimum",
        "Current.Import.Offered",
        "Display.BatteryEnergyCapacity",
        "Display.ChargingComplete",
        "Display.InletHot",
        "Display.MaximumSOC",
        "Display.MinimumSOC",
        "Display.PresentSOC",
        "Display.RemainingTimeToMaximumSOC",
        "Display.RemainingTimeToMinimumSOC",
        "Display.RemainingTimeToTargetSOC",
        "Display.TargetSOC",
        "Energy.Active.Import.CableLoss",
        "Energy.Active.Import.LocalGeneration.Register",
        "Energy.Active.Setpoint.Interval",
        "EnergyRequest.Bulk",
        "EnergyRequest.Maximum",
        "EnergyRequest.Maximum.V2X",
        "EnergyRequest.Minimum",
        "EnergyRequest.Minimum.V2X",
        "EnergyRequest.Target",
        "Power.Active.Residual",
        "Power.Active.Setpoint",
        "Power.Export.Minimum",
        "Power.Export.Offered",
        "Power.Import.Minimum",
        "Power.Import.Offered",
        "Voltage.Maximum",
        "Voltage.Minimum",
    }
)
"""Measurands of the standard (1.6 or 2.0.1) that a reading has no place for: no deviation."""

PHASES: frozenset[object] = frozenset(
    {None, "", "L1", "L2", "L3", "N", "L1-N", "L2-N", "L3-N", "L1-L2", "L2-L3", "L3-L1"}
)
"""Phases of the standard."""

RANKS: Mapping[str | None, int] = {
    None: 0,
    "": 0,
    "Outlet": 0,
    "Cable": 1,
    "Body": 2,
    "Inlet": 3,
    "EV": 4,
    "Upstream": 5,
}
"""Location -> how far it is from what the car draws at the outlet; less is better."""

SOC_RANKS: Mapping[str | None, int] = {**dict.fromkeys(RANKS, 1), "EV": 0}
"""The state of charge is the car's own, wherever it is said to be measured."""

FARTHEST: Final = 6
"""The rank of a location that the standard does not know."""

CONTEXTS: Mapping[str | None, ReadingContext] = {
    None: ReadingContext.PERIODIC,
    "": ReadingContext.PERIODIC,
    "Sample.Periodic": ReadingContext.PERIODIC,
    "Sample.Clock": ReadingContext.CLOCK,
    "Transaction.Begin": ReadingContext.BEGIN,
    "Transaction.End": ReadingContext.END,
    "Trigger": ReadingContext.TRIGGER,
    "Interruption.Begin": ReadingContext.INTERRUPTION_BEGIN,
    "Interruption.End": ReadingContext.INTERRUPTION_END,
    "Other": ReadingContext.OTHER,
}

HIGHEST_DELTA_V: Final = 300.0
"""Line-to-line voltages above this are those of a 400 V star system (EN 50160: 230 V +10 % is 253 V)."""
