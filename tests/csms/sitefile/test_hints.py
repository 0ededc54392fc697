"""What an electrician should look at. None of it makes a site unsafe."""

import pytest

from csms.sitefile import hints
from csms.sitefile.findings import Severity
from csms.sitefile.hints import RULES, Rule
from tests.csms.sitefile.conftest import Describe

BOARD = "id: board, fed_from: main, limit_a: 40"
BAY = "identity: B1, circuit: main"


def bays(count: int, circuit: str = "main", more: str = "") -> list[str]:
    return [f"identity: {circuit}-{n}, circuit: {circuit}{more}" for n in range(count)]


CASES: list[tuple[Rule, list[str], list[str], str, list[str]]] = [
    (hints.order_of_limits, ["id: main, limit_a: 40", BOARD], [BAY], "TN-400", []),
    (
        hints.order_of_limits,
        ["id: main, limit_a: {L1: 40, L2: 39, L3: 63}", BOARD],
        [BAY],
        "TN-400",
        ["circuits[1].limit_a: is above that of 'main', which feeds it (L2 40 A of 39 A): 'main' decides"],
    ),
    # gG 1.6 : 1 (IEC 60269, handbook figure): 80 before 50 is selective, 63 before 50 is not.
    (
        hints.selectivity,
        ["id: main, limit_a: 63, device_a: 80", BOARD + ", device_a: 50"],
        [BAY],
        "TN-400",
        [],
    ),
    (
        hints.selectivity,
        ["id: main, limit_a: 63, device_a: 63", BOARD + ", device_a: 50"],
        [BAY],
        "TN-400",
        ["circuits[1].device_a: 63 A before 50 A is 1.26 : 1."],
    ),
    (hints.unknown_devices, ["id: main, limit_a: 63, device_a: 63"], [BAY], "TN-400", []),
    (hints.unknown_devices, ["id: main, limit_a: 63"], [BAY], "TN-400", ["circuits[0]: no device_a"]),
    (hints.unreachable, ["id: main, limit_a: 63", BOARD], bays(1, "board"), "TN-400", []),
    (
        hints.unreachable,
        ["id: main, limit_a: 5", BOARD],
        [BAY, "identity: B2, circuit: main, wiring: [L2]"],
        "TN-400",
        [
            "circuits[1]: feeds no station",
            "stations[0].circuit: no car can charge here on L1, L2, L3",
            "stations[1].circuit: no car can charge here on L2",
        ],
    ),
    # 6 A for each of ten bays on 63 A, not for eleven.
    (hints.waiting_cars, ["id: main, limit_a: 63"], bays(10), "TN-400", []),
    (
        hints.waiting_cars,
        ["id: main, limit_a: {L1: 63, L2: 63, L3: 54}"],
        bays(11),
        "TN-400",
        ["circuits[0].limit_a: 11 bays, but 6 A on L3 for 9 at once"],
    ),
    (
        hints.waiting_cars,
        ["id: main, limit_a: 63"],
        bays(6, more=", evses: 2"),
        "TN-400",
        ["circuits[0].limit_a: 12 bays"],
    ),
    (
        hints.rotation,
        ["id: main, limit_a: 63"],
        [*bays(2), "identity: B3, circuit: main, wiring: [L2, L3, L1]"],
        "TN-400",
        [],
    ),
    (hints.rotation, ["id: main, limit_a: 63"], bays(2), "TN-400", []),
    (hints.rotation, ["id: main, limit_a: 63"], bays(3, more=", can_choose_line: true"), "TN-400", []),
    (hints.rotation, ["id: main, limit_a: {L1: 63}"], bays(3, more=", wiring: [L1]"), "TN-400", []),
    (
        hints.rotation,
        ["id: main, limit_a: 63"],
        bays(3),
        "TN-400",
        ["circuits[0]: L1 of all 3 stations hangs on L1"],
    ),
    (hints.forgetful, ["id: main, limit_a: 63"], [BAY], "TN-400", []),
    (
        hints.forgetful,
        ["id: main, limit_a: 63"],
        [BAY + ", keeps_profiles: false, max_current_a: 20"],
        "TN-400",
        ["stations[0].keeps_profiles: keeps no profiles: counts with its full 20 A"],
    ),
    (hints.silent_at_nothing, ["id: main, limit_a: 63"], [BAY + ", fallback_a: 6"], "TN-400", []),
    (
        hints.silent_at_nothing,
        ["id: main, limit_a: 63"],
        [BAY],
        "TN-400",
        ["stations: 1 of 1 stations fall back to 0 A"],
    ),
    (
        hints.meters,
        ["id: main, limit_a: 63, worst_base_a: 9, meter: {counts: total, period_s: 5}"],
        [BAY],
        "TN-400",
        [],
    ),
    (
        hints.meters,
        ["id: main, limit_a: 63, worst_base_a: 9"],
        [BAY],
        "TN-400",
        ["circuits[0].worst_base_a: is never measured", "circuits: no circuit has a meter"],
    ),
    (
        hints.meters,
        ["id: main, limit_a: 63, meter: {counts: total, period_s: 5}"],
        [BAY],
        "IT-230",
        [
            "circuits[0].meter: there is a meter, but worst_base_a is 0 A",
            "circuits[0].meter.counts: counts the total",
        ],
    ),
    (hints.delta, ["id: main, limit_a: 63"], [BAY], "TT-400", []),
    (hints.delta, ["id: main, limit_a: 63"], [BAY], "TT-230", ["site.system: TT-230 has no usable neutral"]),
]


@pytest.mark.parametrize(("rule", "circuits", "stations", "system", "expected"), CASES)
def test_each_rule_speaks_where_it_should_and_not_elsewhere(
    describe: Describe, rule: Rule, circuits: list[str], stations: list[str], system: str, expected: list[str]
) -> None:
    found = list(rule(describe(circuits, stations, system=system)))
    said = [f"{finding.path}: {finding.text}" for finding in found]
    assert [text[: len(start)] for text, start in zip(said, expected, strict=True)] == expected
    assert all(finding.severity is not Severity.FAULT for finding in found)


def test_every_rule_is_tried_and_every_rule_is_listed() -> None:
    assert {case[0] for case in CASES} == set(RULES)
