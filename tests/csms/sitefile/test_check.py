"""What makes a site unsafe, found at its place."""

import pytest

from csms.power.installation import Line
from csms.sitefile.check import Proof, prove
from csms.sitefile.findings import Severity
from tests.csms.sitefile.conftest import Describe


def faults(proof: Proof) -> list[str]:
    return [f"{f.place} {f.path}: {f.text}" for f in proof.findings if f.severity is Severity.FAULT]


def test_silence_is_added_up_on_every_line(describe: Describe) -> None:
    """By hand: 22 A of building and 6 + 6 A of silent stations on L1, 22 and 6 A on L2 and L3."""
    found = prove(
        describe(
            ["id: main, limit_a: 34, worst_base_a: 22", "id: board, fed_from: main, limit_a: 20"],
            [
                "identity: B1, circuit: board, fallback_a: 6",
                "identity: B2, circuit: board, fallback_a: 6, wiring: [L1]",
                "identity: B3, circuit: main, fallback_a: 0",
            ],
        )
    )
    assert found.safe
    assert [(c.circuit, c.line, c.base, c.stations, c.together, c.limit) for c in found.carried] == [
        ("main", Line.L1, 22.0, 12.0, 34.0, 34.0),
        ("main", Line.L2, 22.0, 6.0, 28.0, 34.0),
        ("main", Line.L3, 22.0, 6.0, 28.0, 34.0),
        ("board", Line.L1, 0.0, 12.0, 12.0, 20.0),
        ("board", Line.L2, 0.0, 6.0, 6.0, 20.0),
        ("board", Line.L3, 0.0, 6.0, 6.0, 20.0),
    ]


def test_a_sum_above_a_limit_is_told_at_that_line(describe: Describe) -> None:
    found = prove(
        describe(
            ["id: main, limit_a: {L1: 63, L2: 27.9, L3: 63}, worst_base_a: 22"],
            ["identity: B1, circuit: main, fallback_a: 6"],
        )
    )
    assert not found.safe
    assert faults(found) == [
        "3:38 circuits[0].limit_a.L2: L2: 22 A of building at its worst and 6 A of silent stations make "
        "28 A, above the limit of 27.9 A: lower fallback_a of stations below, or the worst base load"
    ]


def test_a_station_that_keeps_nothing_counts_with_its_rating(describe: Describe) -> None:
    circuit = ["id: main, limit_a: 30"]
    kept = describe(circuit, ["identity: B1, circuit: main, max_current_a: 32, fallback_a: 6"])
    assert prove(kept).safe
    lost = describe(circuit, ["identity: B1, circuit: main, max_current_a: 32, keeps_profiles: false"])
    assert len(faults(prove(lost))) == 3


def test_every_evse_counts(describe: Describe) -> None:
    station = "identity: B1, circuit: main, fallback_a: 6, evses: "
    assert prove(describe(["id: main, limit_a: 18"], [station + "3"])).safe
    assert not prove(describe(["id: main, limit_a: 18"], [station + "4"])).safe


def test_the_lowest_cap_of_the_day_counts(describe: Describe) -> None:
    """Two stations at 3 x 6 A x 230 V: 8280 W."""
    stations = [f"identity: B{n}, circuit: main, fallback_a: 6" for n in (1, 2)]
    windows = (
        "cap_windows: [{start: 07:00, end: 09:00, cap_w: 8300}, {start: 17:00, end: 20:00, cap_w: 8200}]"
    )
    found = prove(describe([f"id: main, limit_a: 63, cap_w: 9000, {windows}"], stations))
    assert [fault.split(":")[2].strip() for fault in faults(found)] == [
        "0 W of building at its worst and 8280 W of silent stations make 8280 W, above the limit of 8200 W"
    ]
    assert "circuits[0].cap_windows[1].cap_w" in faults(found)[0]
    over = prove(describe(["id: main, limit_a: 63, cap_w: 8000"], stations))
    assert "circuits[0].cap_w: 0 W" in faults(over)[0]


def test_in_the_delta_fallbacks_are_added_as_they_are(describe: Describe) -> None:
    """Phasors would make 20.8 A of two 12 A cars on neighbouring pairs; which pairs they use is unknown."""
    stations = [
        f"identity: B{n}, circuit: main, fallback_a: 12, wiring: {w}"
        for n, w in enumerate(["[L1, L2]", "[L2, L3]"])
    ]
    assert prove(describe(["id: main, limit_a: 24"], stations, system="IT-230")).safe
    tight = prove(describe(["id: main, limit_a: 23"], stations, system="IT-230"))
    assert [fault.split()[1] for fault in faults(tight)] == ["circuits[0].limit_a.L2:"]


@pytest.mark.parametrize(
    ("circuits", "stations", "system", "expected"),
    [
        (
            ["id: main, limit_a: {L1: 60, L2: 63, L3: 70}, device_a: 63"],
            [],
            "TN-400",
            ["3:46 circuits[0].limit_a.L3: 70 A is above the device's rating of 63 A"],
        ),
        (
            ["id: main, limit_a: {L1: 63}", "id: board, fed_from: main, limit_a: {L1: 10, L2: 10, L3: 10}"],
            ["identity: B1, circuit: main, wiring: [L1]"],
            "TN-400",
            [
                "4:55 circuits[1].limit_a.L2: 'main', which feeds it, has no L2",
                "4:63 circuits[1].limit_a.L3: 'main', which feeds it, has no L3",
            ],
        ),
        (
            ["id: main, limit_a: {L1: 63}"],
            ["identity: B1, circuit: main", "identity: B2, circuit: main, wiring: [L1]"],
            "TN-400",
            ["5:5 stations[0].wiring: circuit 'main' has no L2 and no L3"],
        ),
        (
            ["id: main, limit_a: 63"],
            ["identity: B1, circuit: main, wiring: [L1]"],
            "TT-230",
            ["5:43 stations[0].wiring: must name 2 or 3 lines: there is no neutral in TT-230"],
        ),
    ],
)
def test_what_cannot_be_is_told_at_its_place(
    describe: Describe, circuits: list[str], stations: list[str], system: str, expected: list[str]
) -> None:
    found = prove(describe(circuits, stations, system=system))
    assert faults(found) == expected
    assert not found.safe


def test_what_the_steering_refuses_is_refused_here(describe: Describe) -> None:
    """An unbalance limit has no meaning without a neutral (and `Installation` says so)."""
    found = prove(describe(["id: main, limit_a: 63, unbalance_a: 20"], system="IT-230"))
    assert [fault.split()[1] for fault in faults(found)] == ["circuits[0].unbalance_a:"]
