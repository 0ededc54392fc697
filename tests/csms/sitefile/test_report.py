"""What the check prints, and what it says to a program."""

from collections.abc import Callable

from csms.sitefile.report import CAUTIONS, as_data, as_text, check_text


def test_a_safe_site_has_its_table_and_the_cautions(site_text: Callable[..., str]) -> None:
    text = site_text(
        [
            "id: main, limit_a: 34, device_a: 35, cap_w: 24000, worst_base_a: 22, "
            "meter: {counts: base, period_s: 5}"
        ],
        ["identity: B1, circuit: main, fallback_a: 6"],
    )
    report = check_text(text)
    assert report.safe
    assert as_text(report, "yard.yaml").splitlines() == [
        "When no station hears us and the building draws its worst:",
        "  circuit  line  building  stations  together     limit      left",
        "  main     L1        22.0       6.0      28.0      34.0       6.0 A",
        "  main     L2        22.0       6.0      28.0      34.0       6.0 A",
        "  main     L3        22.0       6.0      28.0      34.0       6.0 A",
        "  main     cap      15180      4140     19320     24000      4680 W",
        "",
        "Safe in silence: 0 faults, 0 to look at.",
        "",
        *CAUTIONS,
    ]
    data = as_data(report, "yard.yaml")
    assert (data["file"], data["safe"], data["findings"], data["left_out"]) == ("yard.yaml", True, [], 0)
    assert data["silence"] == [
        {
            "circuit": "main",
            "line": line,
            "unit": "A",
            "building": 22.0,
            "stations": 6.0,
            "together": 28.0,
            "limit": 34.0,
            "fits": True,
        }
        for line in ("L1", "L2", "L3")
    ] + [
        {
            "circuit": "main",
            "line": None,
            "unit": "W",
            "building": 15180.0,
            "stations": 4140.0,
            "together": 19320.0,
            "limit": 24000,
            "fits": True,
        }
    ]


def test_faults_of_writing_and_of_arithmetic_come_together(site_text: Callable[..., str]) -> None:
    text = site_text(
        ["id: main, limit_a: 25, worst_base_a: 22"],
        ["identity: B1, circuit: main, fallback_a: 6", "identity: B2, circuit: cellar"],
    )
    report = check_text(text)
    assert not report.safe
    lines = as_text(report, "f.yaml").splitlines()
    assert lines[0].startswith("f.yaml:3:25: fault: circuits[0].limit_a.L1: L1: 22 A of building")
    assert lines[3] == "f.yaml:6:29: fault: stations[1].circuit: there is no circuit 'cellar'"
    assert ": hint: " in lines[4]
    assert sum(line.endswith("  TOO MUCH") for line in lines) == 3
    verdict = next(line for line in lines if line.startswith("NOT SAFE"))
    assert "4 faults" in verdict
    assert "leave out 1 entries" in verdict
    found = as_data(report, "f.yaml")["findings"]
    assert isinstance(found, list)
    assert [each["severity"] for each in found[:4]] == ["fault"] * 4


def test_what_is_not_readable_is_one_line() -> None:
    report = check_text("a: [")
    assert not report.readable
    assert not report.safe
    assert as_text(report, "f.yaml").splitlines() == [
        "f.yaml:1:5: fault: is not YAML: while parsing a flow node expected the node content, but found "
        "'<stream end>'"
    ]
