"""FLAT: a start or transaction fee, once per session and once per reservation.

It is the first FLAT component to become active, mostly that of the start; a later one does not
come on top (the standard calls it an amount to be paid for any session, and says no more).
"""

from fractions import Fraction

from csms.tariffs.component import Dimension, Kind
from csms.tariffs.curve import Segment


class Flat(Kind):
    dimension = Dimension.FLAT
    unit = "each"
    base_per_unit = 1
    base_per_price = 1
    price_unit = "session"
    rounds_with = None
    in_reservation = True

    def used(self, segment: Segment) -> Fraction | None:
        """One session; pricing takes the first and no other."""
        return Fraction(1)
