"""ENERGY counts Wh, whatever the time was."""

from fractions import Fraction

import pytest

from csms.tariffs.components.energy import Energy
from csms.tariffs.curve import Segment, SegmentKind


@pytest.mark.parametrize("kind", [SegmentKind.CHARGING, SegmentKind.PARKING, SegmentKind.PAUSED])
def test_energy_counts_in_every_kind_of_session_time(kind: SegmentKind) -> None:
    assert Energy().used(Segment(kind=kind, duration_s=Fraction(60), energy_wh=Fraction(7, 3))) == Fraction(
        7, 3
    )


def test_a_reservation_has_no_energy() -> None:
    assert Energy().used(Segment(kind=SegmentKind.RESERVATION, duration_s=Fraction(60))) is None
    assert not Energy.in_reservation


def test_a_price_is_for_a_kilowatt_hour() -> None:
    assert (Energy.base_per_price, Energy.price_unit, Energy.base_per_unit, Energy.unit) == (
        1000,
        "kWh",
        1000,
        "kWh",
    )
