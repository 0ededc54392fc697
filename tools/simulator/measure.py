"""What the meter of a bay reads at one moment, value by value, as both versions word it."""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

from tools.simulator.bay import Bay

LINE_NAMES: Final = ("L1", "L2", "L3")
FREQUENCY_HZ: Final = 50.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One value. `unit` None: the measurand has none (Power.Factor); `phase` None: all lines together."""

    measurand: str
    value: float
    unit: str | None = None
    phase: str | None = None
    location: str = "Outlet"


def read(bay: Bay, measurands: Collection[str]) -> list[Sample]:
    """The values of those measurands, in the order they are named. Unknown measurands are left out."""
    samples: list[Sample] = []
    for measurand in measurands:
        samples.extend(_read_one(bay, measurand))
    return samples


def _read_one(bay: Bay, measurand: str) -> list[Sample]:
    evse, car = bay.evse, bay.evse.car
    lines = LINE_NAMES[: evse.model.line_count]
    volt = evse.model.voltage_v
    match measurand:
        case "Energy.Active.Import.Register":
            return [Sample(measurand=measurand, value=round(evse.register_wh, 1), unit="Wh")]
        case "Power.Active.Import":
            return [Sample(measurand=measurand, value=round(evse.power_w, 1), unit="W")]
        case "Current.Import":
            currents = zip(lines, evse.currents_a, strict=False)
            return [
                Sample(measurand=measurand, value=round(value, 2), unit="A", phase=line)
                for line, value in currents
            ]
        case "Voltage":
            return [
                Sample(measurand=measurand, value=round(volt, 1), unit="V", phase=f"{line}-N")
                for line in lines
            ]
        case "Current.Offered":
            return [Sample(measurand=measurand, value=round(evse.offered_a, 1), unit="A")]
        case "Power.Offered":
            power_w = evse.offered_a * volt * evse.model.line_count
            return [Sample(measurand=measurand, value=round(power_w, 1), unit="W")]
        case "Frequency":
            return [Sample(measurand=measurand, value=FREQUENCY_HZ, unit="Hertz")]
        case "Power.Factor":
            return [Sample(measurand=measurand, value=1.0)]
        case "SoC" if car is not None:
            return [Sample(measurand=measurand, value=round(car.soc * 100, 1), unit="Percent", location="EV")]
    return []
