"""The tables of quantities know every word of all versions' schemas."""

import pytest

from csms.ocpp.quantities import (
    CELLS,
    CONTEXTS,
    CURRENT,
    ENERGY,
    HEAT,
    PHASES,
    PLACES,
    POWER,
    RANKS,
    SHARE,
    STANDARD_OTHERS,
    VOLTAGE,
    Place,
)
from tests.vectors.reader import members

MESSAGES = [
    ("v16", "MeterValues"),
    ("v16", "StopTransaction"),
    ("v201", "MeterValuesRequest"),
    ("v201", "TransactionEventRequest"),
    ("v21", "MeterValuesRequest"),
    ("v21", "TransactionEventRequest"),
]


@pytest.mark.parametrize(("version", "message"), MESSAGES)
def test_every_word_of_the_official_schema_is_known(version: str, message: str) -> None:
    measurands = members(version, message, "measurand")
    assert len(measurands) >= 22
    assert measurands <= CELLS.keys() | STANDARD_OTHERS
    assert members(version, message, "phase") <= PHASES
    assert members(version, message, "location") <= RANKS.keys()
    assert members(version, message, "context") <= CONTEXTS.keys()


def test_every_unit_of_1_6_that_a_cell_needs_is_known() -> None:
    """The reactive units and Hertz belong to quantities that are only kept aside."""
    aside = {"varh", "kvarh", "var", "kvar", "Hertz"}
    known = set().union(*(units.keys() for units in (ENERGY, POWER, CURRENT, VOLTAGE, HEAT, SHARE)))
    assert members("v16", "MeterValues", "unit") - aside <= known


def test_every_place_is_reached_by_one_measurand() -> None:
    reached = [(name, place) for name, cells in CELLS.items() for place, _ in cells.values()]
    assert {place for _, place in reached} == set(range(PLACES)) == {int(place) for place in Place}
    assert len(set(reached)) == PLACES
