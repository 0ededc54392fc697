"""A site file becomes a description, or every fault in it with its place."""

from collections.abc import Callable
from datetime import time

import pytest

from csms.sitefile.parsing import parse
from csms.sites.model import CapWindow, CircuitMeter, Fairness, MeterCounts, Sharing, System
from csms.stations.model import Registration

WHOLE = """\
site:
  id: yard
  name: Weavers' Yard
  time_zone: Europe/Amsterdam
  currency: EUR
  system: IT-230
circuits:
  - id: main
    name: Mill supply
    limit_a: {L1: 63, L2: 63, L3: 50.5}
    device_a: 63
    cap_w: 40000
    cap_windows:
      - {start: 17:00, end: 20:30, cap_w: 20000}
    worst_base_a: {L1: 22}
    meter:
      counts: base
      period_s: 2.5
      input:
        kind: modbus
        host: 10.0.0.7
        lines: {L1: {address: 12}, L3: {address: 16, type: i32, scale: 0.001}}
  - {id: board, fed_from: main, limit_a: 40}
stations:
  - identity: BAY-01
    serial: WY 0001
    name: Bay 1
    circuit: board
    evses: 2
    wiring: [L2, L3, L1]
    max_current_a: 20
    step_a: 0.1
    fallback_a: 6
    can_choose_line: true
    keeps_profiles: false
  - {identity: NO, circuit: main}
"""


def test_every_value_arrives() -> None:
    parsed = parse(WHOLE)
    assert parsed.faults == ()
    assert (parsed.readable, parsed.left_out) == (True, 0)
    found = parsed.description
    assert found is not None
    assert (found.site.id, found.site.name, found.site.system) == ("yard", "Weavers' Yard", System.IT_230)
    assert (found.site.time_zone, found.site.currency, found.site.active) == (
        "Europe/Amsterdam",
        "EUR",
        False,
    )
    main, board = found.circuits
    assert (main.name, main.limit_a, main.device_a) == ("Mill supply", (63.0, 63.0, 50.5), 63.0)
    assert (main.cap_w, main.cap_windows) == (40_000, (CapWindow(time(17), time(20, 30), 20_000),))
    assert (main.worst_base_a, main.unbalance_a) == ((22.0, 0.0, 0.0), None)
    lines = {"L1": {"address": 12}, "L3": {"address": 16, "type": "i32", "scale": 0.001}}
    assert main.meter == CircuitMeter(
        MeterCounts.BASE, 2.5, {"kind": "modbus", "host": "10.0.0.7", "lines": lines}
    )
    assert (board.name, board.fed_from, board.limit_a) == ("board", "main", (40.0, 40.0, 40.0))
    first, second = found.stations
    assert first.evses == 2
    station = first.station
    assert (station.id, station.expected_serial, station.name) == ("BAY-01", "WY 0001", "Bay 1")
    assert (station.site_id, station.circuit_id) == ("yard", "board")
    assert station.registration is Registration.ACCEPTED
    assert station.wiring == ("L2", "L3", "L1")
    assert (station.max_current_a, station.step_a, station.fallback_a) == (20.0, 0.1, 6.0)
    assert station.can_choose_line
    assert not station.keeps_profiles
    assert (second.station.id, second.evses, second.station.max_current_a) == ("NO", 1, 32.0)


@pytest.mark.parametrize(
    ("circuits", "stations", "expected"),
    [
        (["id: main, limit_a: -5"], [], ["3:25 circuits[0].limit_a: must not be negative, but is -5"]),
        (["id: main, limit_a: .nan"], [], ["3:25 circuits[0].limit_a: must be a finite number, not .nan"]),
        (["id: main, limit_a: 0"], [], ["3:25 circuits[0].limit_a: must be above 0 A on at least one line"]),
        (["id: main"], [], ["3:5 circuits[0]: limit_a is missing; give a value"]),
        (
            ["id: main, limit_a: {L1: 6}, worst_base_a: 3"],
            [],
            [
                f"3:48 circuits[0].worst_base_a.{line}: the circuit has no {line}: its limit is 0 A"
                for line in ("L2",)
            ],
        ),
        (
            ["id: a, limit_a: 1, fed_from: b", "id: b, limit_a: 1, fed_from: a"],
            [],
            [
                "3:3 circuits: none of them is the supply; one must have no fed_from",
                "3:35 circuits[0].fed_from: makes a loop: a < b < a",
            ],
        ),
        (
            ["id: a, limit_a: 1", "id: a, limit_a: 1, fed_from: x"],
            [],
            ["4:10 circuits[1].id: 'a' is there twice; each circuit has its own id"],
        ),
        (
            ["id: a, limit_a: 1, cap_windows: [{start: 7, end: 08:00, cap_w: 1.5}]"],
            [],
            [
                "3:47 circuits[0].cap_windows[0].start: '7' is no time of day such as 07:30",
                "3:69 circuits[0].cap_windows[0].cap_w: must be a whole number, not 1.5",
            ],
        ),
        (
            ["id: a, limit_a: 1, meter: {counts: gas, period_s: 0}"],
            [],
            ["3:41 circuits[0].meter.counts: 'gas' is none of base, total"],
        ),
        (
            ["id: a, limit_a: 1, meter: {counts: base, period_s: 1, input: {kind: p1, host: h, port: 0}}"],
            [],
            ["3:93 circuits[0].meter.input.port: must be from 1 to 65535, not 0"],
        ),
        (
            ["id: a, limit_a: 1, meter: {counts: base, period_s: 0}"],
            [],
            ["3:57 circuits[0].meter.period_s: must be above 0 and at most 3600 s, not 0.0"],
        ),
        (
            ["id: a, limit_a: 16"],
            [
                "identity: B 1, circuit: b, fallback_a: 3",
                "identity: B 1, circuit: a, fallback_a: 20, max_current_a: 16, serial: x",
                "identity: B/2, circuit: a, evses: 0, step_a: 2, wiring: [L1, L1], serial: X",
            ],
            [
                "5:30 stations[0].circuit: there is no circuit 'b'",
                "5:45 stations[0].fallback_a: must be 0 or at least 6: no car can be told 3 A",
                "6:16 stations[1].identity: 'B 1' is there twice; each station has its own identity",
                "6:45 stations[1].fallback_a: 20 A is above max_current_a, 16 A",
                "7:16 stations[2].identity: must be 1 to 48 characters without : / ? # \\, control "
                "characters or blanks around it",
                "7:40 stations[2].evses: must be at least 1, not 0",
                "7:80 stations[2].serial: 'X' is there twice, also at stations[1]",
            ],
        ),
    ],
)
def test_every_fault_has_its_place(
    site_text: Callable[..., str], circuits: list[str], stations: list[str], expected: list[str]
) -> None:
    parsed = parse(site_text(circuits, stations))
    assert [f"{fault.place} {fault}" for fault in parsed.faults] == expected
    assert parsed.readable
    assert parsed.left_out > 0


def test_what_is_sound_is_kept_beside_what_is_not(site_text: Callable[..., str]) -> None:
    text = site_text(
        [
            "id: main, limit_a: 63",
            "id: bad, fed_from: main, limit_a: -1",
            "id: below, fed_from: bad, limit_a: 10",
        ],
        [
            "identity: B1, circuit: main",
            "identity: B2, circuit: below",
            "identity: B3, circuit: main, volts: 230",
        ],
    )
    parsed = parse(text)
    assert parsed.description is not None
    assert [circuit.id for circuit in parsed.description.circuits] == ["main"]
    assert [planned.station.id for planned in parsed.description.stations] == ["B1"]
    assert [fault.path for fault in parsed.faults] == ["circuits[1].limit_a", "stations[2].volts"]
    assert parsed.left_out == 4


def test_all_of_the_site_is_looked_at() -> None:
    text = "site: {id: A B, name: '', time_zone: Mars, currency: EU, system: TN, age: 3}\ncircuits: []"
    assert [f"{fault.place} {fault.path}" for fault in parse(text).faults] == [
        "1:12 site.id",
        "1:23 site.name",
        "1:38 site.time_zone",
        "1:54 site.currency",
        "1:66 site.system",
        "1:70 site.age",
        "2:11 circuits",
    ]
    missing = parse("circuits: [{id: a, limit_a: 1}]")
    assert [str(fault) for fault in missing.faults] == ["site is missing; give a value"]


@pytest.mark.parametrize("text", ["", "- a", "a", "a: [", "1: 2\n---\n3: 4"])
def test_what_is_no_mapping_is_not_readable(text: str) -> None:
    parsed = parse(text)
    assert not parsed.readable
    assert parsed.description is None
    assert len(parsed.faults) == 1


def test_no_text_whatever_breaks_the_reader() -> None:
    for end in range(len(WHOLE)):
        cut = parse(WHOLE[:end])
        assert cut.faults or cut.description is not None


def test_how_it_is_shared_is_read_or_usual_and_a_wrong_word_is_told() -> None:
    head = "site: {id: yard, name: Yard, time_zone: UTC, currency: EUR, system: TN-400"
    tail = "}\ncircuits:\n  - {id: main, name: Main, limit_a: 32}\nstations: []"
    usual = parse(head + tail).description
    assert usual is not None
    assert (usual.site.strategy, usual.site.fairness) == (Sharing.WEIGHTED, Fairness.AMPERES)
    told = parse(f"{head}, strategy: first_come, fairness: kilowatts{tail}").description
    assert told is not None
    assert (told.site.strategy, told.site.fairness) == (Sharing.FIRST_COME, Fairness.KILOWATTS)
    (fault,) = parse(f"{head}, strategy: by_mood{tail}").faults
    assert (fault.path, fault.problem) == (
        "site.strategy",
        "'by_mood' is none of weighted, equal, first_come, priority, planned",
    )
