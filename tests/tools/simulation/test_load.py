from collections.abc import Callable
from dataclasses import replace

import pytest

from tools.simulation.description import BaseLoad, Description, LoadKind, Step
from tools.simulation.load import as_lines, changes

Make = Callable[..., Description]


def test_constant_and_steps(make: Make) -> None:
    described = make()
    step = Step(at_s=600.0, lasts_s=60.0, current_a=4.0, lines=(1,))
    found = changes(described, BaseLoad(circuit="supply", current_a=2.0, steps=(step,)))
    assert [(c.at_s - described.starts_s, c.line_a) for c in found] == [
        (0.0, (2.0, 2.0, 2.0)),
        (600.0, (2.0, 6.0, 2.0)),
        (660.0, (2.0, 2.0, 2.0)),
    ]


def test_a_profile_changes_by_the_hour(make: Make) -> None:
    described = make()
    hourly = tuple(float(hour // 12) for hour in range(24))
    found = changes(described, BaseLoad(circuit="supply", kind=LoadKind.PROFILE, hourly_a=hourly))
    assert [(c.at_s - described.starts_s, c.line_a[0]) for c in found] == [(0.0, 0.0), (43_200.0, 1.0)]


def test_a_house_draws_what_its_yearly_use_says(make: Make) -> None:
    """48 flats of 600 kWh a year are 3.3 kW on average; a winter day of H25 is above it, below twice."""
    described = make()
    found = changes(described, BaseLoad(circuit="supply", kind=LoadKind.WEAVERS_YARD))
    ends = [c.at_s for c in found[1:]] + [described.ends_s]
    ampere_s = sum(
        abs(value) * (end - c.at_s) for c, end in zip(found, ends, strict=True) for value in c.line_a
    )
    average_w = ampere_s / 86_400 * 230
    assert 3300 < average_w < 6600
    assert len(found) > 150, "lifts and dryers make steps"


def test_pairs_in_the_delta_add_as_phasors() -> None:
    # Two equal pairs on neighbouring lines: 16, 16 * sqrt(3), 16 A.
    found = [abs(value) for value in as_lines((16.0, 16.0, 0.0), delta=True)]
    assert found == pytest.approx([16.0, 27.713, 16.0], abs=1e-3)


def test_equal_seeds_give_equal_lifts(make: Make) -> None:
    house = BaseLoad(circuit="supply", kind=LoadKind.WEAVERS_YARD)
    assert changes(make(), house) == changes(make(), house)
    assert changes(make(), house) != changes(replace(make(), seed=8), house)
