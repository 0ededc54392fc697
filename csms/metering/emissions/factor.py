"""A factor of emission and a series of them."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal, InvalidOperation

from csms.errors import InvalidInput

MOST = 40_000
"""Factors that one upload may have: a year of quarter hours is 35,040."""
LARGEST_G_PER_KWH = 10_000


@dataclass(frozen=True, slots=True)
class EmissionFactor:
    """From `from_at` to before `to_at`; mg of CO2 equivalent per kWh, as whole as they are kept."""

    from_at: datetime
    to_at: datetime
    mg_per_kwh: int


def series(start: datetime, step: timedelta, values: Sequence[object]) -> tuple[EmissionFactor, ...]:
    """Factors of equal length one after the other; `values` in g/kWh.

    Raises InvalidInput (`g_per_kwh[3]` and the like).
    """
    if not 1 <= len(values) <= MOST:
        raise InvalidInput("g_per_kwh", f"give 1 to {MOST} factors")
    return tuple(
        EmissionFactor(start + step * place, start + step * (place + 1), _mg(value, place))
        for place, value in enumerate(values)
    )


def _mg(value: object, place: int) -> int:
    try:
        grams = Decimal(str(value))
    except InvalidOperation:
        grams = Decimal("NaN")
    if isinstance(value, bool) or not grams.is_finite() or not 0 <= grams <= LARGEST_G_PER_KWH:
        raise InvalidInput(f"g_per_kwh[{place}]", f"must be a number of grams from 0 to {LARGEST_G_PER_KWH}")
    return int((grams * 1000).to_integral_value())


def emitted(
    factors: Sequence[EmissionFactor], start: datetime, end: datetime, energy_wh: int
) -> tuple[Decimal, Decimal]:
    """(mg of CO2, Wh that no factor covers) of energy taken evenly from `start` to before `end`.

    `factors` are in order of time and do not lie over each other.
    """
    whole = Decimal((end - start) / timedelta(seconds=1))
    place = max(0, bisect_right(factors, start, key=lambda factor: factor.from_at) - 1)
    mg, covered_s = Decimal(0), Decimal(0)
    while place < len(factors) and factors[place].from_at < end:
        factor = factors[place]
        low, high = max(start, factor.from_at), min(end, factor.to_at)
        if high > low:
            part_s = Decimal((high - low) / timedelta(seconds=1))
            mg += Decimal(energy_wh) * part_s * factor.mg_per_kwh / whole / 1000
            covered_s += part_s
        place += 1
    return mg, Decimal(energy_wh) * (whole - covered_s) / whole
