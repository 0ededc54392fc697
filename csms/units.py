"""Units at the edges: what is stored as integers, and the figures that tie them together.

Inside, quantities are floats or Decimals with the unit in their name. In the database they
are integers of a small unit, so that both databases keep them exactly: currents in mA,
voltages in mV, energy in Wh, power in W, temperature in tenths of a kelvin step (d°C).
"""

from decimal import ROUND_DOWN, ROUND_HALF_UP, Decimal

NOMINAL_VOLTAGE_V = 230
"""Line to neutral in a star system, line to line in a 230 V delta system (EN 50160, IEC 60038)."""

LOWEST_CURRENT_A = 6.0
"""The lowest current that a control pilot can offer (IEC 61851-1)."""


def milli(value: float | Decimal) -> int:
    """A current or voltage in thousandths, half up."""
    return int((Decimal(str(value)) * 1000).quantize(Decimal(1), ROUND_HALF_UP))


def from_milli(value: int | None) -> float | None:
    """The inverse of `milli`."""
    return None if value is None else value / 1000


def floor_tenth(value_a: float | Decimal) -> float:
    """A limit as OCPP carries it: one decimal, rounded down (OCPP 1.6, chargingSchedulePeriod)."""
    return float(Decimal(str(round(float(value_a), 6))).quantize(Decimal("0.1"), ROUND_DOWN))
