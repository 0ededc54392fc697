"""ENERGY: a price per kWh, whatever the vehicle was doing while it flowed."""

from fractions import Fraction

from csms.tariffs.component import Dimension, Kind
from csms.tariffs.curve import Segment, SegmentKind


class Energy(Kind):
    dimension = Dimension.ENERGY
    unit = "kWh"
    base_per_unit = 1000
    base_per_price = 1000
    price_unit = "kWh"
    rounds_with = "energy"
    in_reservation = False

    def used(self, segment: Segment) -> Fraction | None:
        """Wh."""
        return None if segment.kind is SegmentKind.RESERVATION else segment.energy_wh
