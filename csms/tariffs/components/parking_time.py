"""PARKING_TIME: a price per hour in which the vehicle asks for no power.

Time in which our own load sharing held it back is SegmentKind.PAUSED and never counts here.
"""

from fractions import Fraction

from csms.tariffs.component import Dimension, Kind
from csms.tariffs.curve import Segment, SegmentKind


class ParkingTime(Kind):
    dimension = Dimension.PARKING_TIME
    unit = "min"
    base_per_unit = 60
    base_per_price = 3600
    price_unit = "h"
    rounds_with = "time"
    in_reservation = False

    def used(self, segment: Segment) -> Fraction | None:
        """Seconds."""
        return segment.duration_s if segment.kind is SegmentKind.PARKING else None
