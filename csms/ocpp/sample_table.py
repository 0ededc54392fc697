"""The samples of one instant and context, and the wide reading that they make."""

from collections.abc import Mapping
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from csms.ocpp.quantities import HIGHEST_DELTA_V, LAST_REGISTER, PLACES, REGISTER, Place, Scale
from csms.ocpp.texts import clean
from csms.stations.model import NO_LINES, PerLine, Reading, ReadingContext
from csms.stations.signed import SignedValue

LARGEST = 1e12
"""Nothing at a charger has more W, Wh, A or V; in thousandths it still fits a database column."""

WIDEST_MULTIPLIER = 24


def unit_of(sample: Mapping[str, Any]) -> tuple[Any, int]:
    """Unit and power of ten of an OCPP 2.x sample; a false multiplier makes the unit unknown."""
    measure = sample["unitOfMeasure"]
    if not isinstance(measure, dict):
        return sample.get("unit"), 0
    power = measure.get("multiplier", 0)
    if isinstance(power, float) and power.is_integer():
        power = int(power)
    if type(power) is not int or abs(power) > WIDEST_MULTIPLIER:
        return f"{measure.get('unit')}, multiplier {power!r:.20}", 0
    return measure.get("unit"), power


def magnitude(value: object, slot: int, scale: Scale | None, power: int) -> Any:
    """The value in our unit: a Decimal for a register, else a float; None for what is no number."""
    try:
        if slot <= LAST_REGISTER:
            exact = Decimal(value if type(value) is str else repr(value))
            if scale is not None:
                exact *= scale.exact
            if power:
                exact = exact.scaleb(power)
            return exact if -LARGEST < exact < LARGEST else None
        if type(value) is bool:
            return None
        number = float(value)  # type: ignore[arg-type]  # what it cannot take raises TypeError
        if power:
            number = number * 10.0**power if power > 0 else number / 10.0**-power
        if scale is not None:
            number = number * scale.factor + scale.offset
        return number if -LARGEST < number < LARGEST else None
    except (ArithmeticError, TypeError, ValueError):
        mended = clean(value).replace(",", ".") if type(value) is str else value
        return None if mended == value else magnitude(mended, slot, scale, power)


class SampleTable:
    """A row of cells, one per `Place`, each with the best sample for it."""

    __slots__ = ("_ranks", "_samples", "_values", "at", "context", "others", "signed")

    def __init__(self, at: datetime, context: ReadingContext) -> None:
        self.at = at
        self.context = context
        self.others: list[tuple[str, str, str, str]] = []
        self.signed: list[SignedValue] = []
        self._values: list[Any] = [None] * PLACES
        self._ranks = [0] * PLACES
        self._samples: list[Mapping[str, Any] | None] = [None] * PLACES

    @property
    def filled(self) -> bool:
        """Whether there is anything to tell."""
        return bool(self.others) or bool(self.signed) or any(self._samples)

    def keep(self, slot: int, value: Any, rank: int, sample: Mapping[str, Any]) -> None:
        """Put `value` into its cell unless one of a rank as good is there; the worse is set aside."""
        held = self._samples[slot]
        if held is not None:
            if rank >= self._ranks[slot]:
                if rank > self._ranks[slot] or value != self._values[slot]:
                    self.set_aside(sample)
                return
            self.set_aside(held)
        self._values[slot] = value
        self._ranks[slot] = rank
        self._samples[slot] = sample

    def set_aside(self, sample: Mapping[str, Any]) -> None:
        """Keep a sample in the sender's words."""
        unit, power = (sample.get("unit"), 0) if "unitOfMeasure" not in sample else unit_of(sample)
        measurand = clean(sample.get("measurand"), 60) or REGISTER
        location = clean(sample.get("location"), 20)
        if location not in ("", "Outlet"):
            measurand = f"{measurand}@{location}"
        written = clean(unit, 40) if power == 0 else f"{clean(unit, 40)}e{power}"
        self.others.append((measurand, clean(sample.get("phase"), 20), written, clean(sample.get("value"))))

    def reading(self) -> Reading:
        """The wide reading. A cell that gives way to its lines is set aside."""
        # all cells in the order of `Place`: one unpacking costs less than 25 look-ups by name
        r, r1, r2, r3, p, p1, p2, p3, c, c1, c2, c3, *volts, o, o1, o2, o3, heat, soc = self._values
        if r is None:
            r = _sum(r1, r2, r3)
        if p is None:
            p = _sum(p1, p2, p3)
        if o is None and (o1 is not None or o2 is not None or o3 is not None):
            o = max(line for line in (o1, o2, o3) if line is not None)
        return Reading(
            self.at,
            self.context,
            None if r is None else int(r.to_integral_value(ROUND_HALF_UP)),
            p,
            (c1, c2, c3) if c is None else self._lines(Place.CURRENT, c, c1, c2, c3),
            self._voltages(*volts),
            (p1, p2, p3),
            o,
            heat,
            soc,
            tuple(self.signed),
            tuple(self.others),
        )

    def _lines(
        self, place: int, overall: float, one: float | None, two: float | None, three: float | None
    ) -> PerLine:
        """A value without a phase is L1's where no line has any (single-phase, DC)."""
        if one is None and two is None and three is None:
            return (overall, None, None)
        self._give_way(place)
        return (one, two, three)

    def _voltages(
        self,
        overall: float | None,
        one: float | None,
        two: float | None,
        three: float | None,
        *pairs: float | None,
    ) -> PerLine:
        """To the neutral if given, else between lines where a system has no neutral (230 V delta)."""
        lines: PerLine = (one, two, three)
        if overall is not None:
            lines = self._lines(Place.VOLTAGE, overall, one, two, three)
        if pairs == NO_LINES:
            return lines
        if lines == NO_LINES and max(pair or 0.0 for pair in pairs) < HIGHEST_DELTA_V:
            return (pairs[0], pairs[1], pairs[2])
        for place in (Place.VOLTAGE_L12, Place.VOLTAGE_L23, Place.VOLTAGE_L31):
            self._give_way(place)
        return lines

    def _give_way(self, place: int) -> None:
        sample = self._samples[place]
        if sample is not None:
            self.set_aside(sample)


def _sum(*lines: Any) -> Any:
    """The sum of what is given; None when nothing is."""
    given = [line for line in lines if line is not None]
    return sum(given) if given else None
