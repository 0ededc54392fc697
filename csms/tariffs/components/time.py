"""TIME: a price per hour of charging, or of a reservation. Not of a pause that we caused."""

from fractions import Fraction

from csms.tariffs.component import Dimension, Kind
from csms.tariffs.curve import Segment, SegmentKind


class Time(Kind):
    dimension = Dimension.TIME
    unit = "min"
    base_per_unit = 60
    base_per_price = 3600
    price_unit = "h"
    rounds_with = "time"
    in_reservation = True

    def used(self, segment: Segment) -> Fraction | None:
        """Seconds."""
        runs = segment.kind in (SegmentKind.CHARGING, SegmentKind.RESERVATION)
        return segment.duration_s if runs else None
