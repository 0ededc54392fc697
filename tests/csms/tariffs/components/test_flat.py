"""FLAT is one, whatever happens, and is never rounded."""

from fractions import Fraction

import pytest

from csms.tariffs.components.flat import Flat
from csms.tariffs.curve import Segment, SegmentKind


@pytest.mark.parametrize("kind", list(SegmentKind))
def test_one_whatever_happens(kind: SegmentKind) -> None:
    assert Flat().used(Segment(kind=kind, duration_s=Fraction(0))) == 1


def test_no_step_applies() -> None:
    assert Flat.rounds_with is None
    assert Flat.in_reservation
