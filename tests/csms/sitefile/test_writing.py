"""What is written is read back as it was."""

from dataclasses import replace
from datetime import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from csms.sitefile.description import UNDATED, Description, Planned
from csms.sitefile.parsing import parse
from csms.sitefile.writing import write
from csms.sites.model import (
    CapWindow,
    Circuit,
    CircuitMeter,
    Fairness,
    MeterCounts,
    Sharing,
    Site,
    System,
)
from csms.stations.model import Registration
from csms.stations.record import Station

SITE = Site(
    id="yard",
    name="Weavers' Yard",
    time_zone="Europe/Amsterdam",
    currency="EUR",
    system=System.TN_400,
    active=False,
    created_at=UNDATED,
    strategy=Sharing.PRIORITY,
    fairness=Fairness.KILOWATTS,
)
MAIN = Circuit(
    id="main",
    site_id="yard",
    name='The "old" supply: 3 x 63 A',
    fed_from=None,
    limit_a=(63.0, 63.0, 0.0),
    device_a=63.5,
    cap_w=40_000,
    cap_windows=(CapWindow(time(17), time(20, 30), 20_000), CapWindow(time(23), time(5), 35_000)),
    unbalance_a=20.0,
    worst_base_a=(22.25, 0.0, 0.0),
    meter=CircuitMeter(
        MeterCounts.TOTAL,
        2.5,
        {
            "kind": "mqtt",
            "host": "010",
            "port": 1883,
            "topic": "no: {a, 'b'}",
            "factor": 0.1,
            "tls": True,
            "time": None,
            "user": "~",
            "lines": {"L1": "a b", "L3": {"topic": ", {", "path": "[0].on"}},
        },
    ),
)
BOARD = Circuit(id="no", site_id="yard", name="no", fed_from="main", limit_a=(40.0, 40.0, 0.0))
BAY = Station(
    id="BAY 01",
    registration=Registration.ACCEPTED,
    created_at=UNDATED,
    name="Bay #1",
    site_id="yard",
    circuit_id="no",
    wiring=("L2", "L1"),
    max_current_a=20.0,
    step_a=0.1,
    fallback_a=6.5,
    can_choose_line=True,
    keeps_profiles=False,
    expected_serial="0042",
)


def same(written: Description) -> None:
    parsed = parse(write(written))
    assert parsed.faults == ()
    read = parsed.description
    assert read is not None
    assert (read.site, read.circuits, read.stations) == (written.site, written.circuits, written.stations)


def test_every_value_comes_back() -> None:
    same(
        Description(
            SITE, (MAIN, BOARD), (Planned(BAY, 2), Planned(replace(BAY, id="NO", expected_serial="")))
        )
    )
    same(Description(replace(SITE, system=System.IT_230), (replace(MAIN, unbalance_a=None),), ()))


@pytest.mark.parametrize(
    "name",
    ["null", "~", "- a", "a: b", "a #b", "'", "é\u00a0ü"[:1], "1.0", "\\n", "*x", "&y", "!z", "{", "%"],
)
def test_names_that_yaml_would_take_for_something_else(name: str) -> None:
    same(Description(replace(SITE, name=name), (replace(MAIN, name=name),), ()))


@given(st.text(min_size=1, max_size=40).map(str.strip).filter(lambda name: name and name.isprintable()))
def test_any_name_comes_back(name: str) -> None:
    same(Description(replace(SITE, name=name), (MAIN, BOARD), (Planned(replace(BAY, name=name)),)))


@given(st.floats(0, 1000).map(lambda a: round(a, 3)), st.floats(0.001, 1000).map(lambda a: round(a, 3)))
def test_any_current_comes_back(base_a: float, limit_a: float) -> None:
    circuit = Circuit(
        id="main",
        site_id="yard",
        name="main",
        fed_from=None,
        limit_a=(limit_a, 1.0, 0.0),
        worst_base_a=(base_a, 0.0, 0.0),
    )
    same(Description(SITE, (circuit,), ()))
