"""The demo's site file and the demo's site are one and the same supply."""

from pathlib import Path

from csms.sitefile.findings import Severity
from csms.sitefile.report import check_text
from csms.sites.model import MeterCounts
from tools.weavers_yard.load_site import slug
from tools.weavers_yard.site import WEAVERS_YARD

FILE = Path("tools/weavers_yard/weavers-yard.yaml")


def test_the_file_says_what_the_demo_is_made_of() -> None:
    found = check_text(FILE.read_text()).description
    assert found is not None
    site = WEAVERS_YARD
    assert (found.site.id, found.site.name) == (slug(site.name), site.name)
    assert (found.site.time_zone, found.site.currency) == (site.time_zone, site.currency)
    assert found.site.system == site.system
    assert [
        (
            c.id,
            c.name,
            c.fed_from,
            set(c.limit_a),
            set(c.worst_base_a),
            c.meter and (c.meter.counts, c.meter.period_s),
        )
        for c in found.circuits
    ] == [
        (
            slug(c.name),
            c.name,
            slug(c.fed_from) if c.fed_from else None,
            {c.limit_a},
            {c.worst_base_a},
            (MeterCounts.BASE, 10.0) if c.fed_from is None else None,
        )
        for c in site.circuits
    ]
    assert [
        (
            p.station.id,
            p.station.name,
            p.station.circuit_id,
            p.station.wiring,
            p.station.max_current_a,
            p.station.step_a,
            p.station.fallback_a,
            p.evses,
        )
        for p in found.stations
    ] == [
        (b.identity, b.name, slug(b.circuit), b.lines, b.max_current_a, b.step_a, b.fallback_a, 1)
        for b in site.bays
    ]


def test_the_demo_site_is_safe_in_silence() -> None:
    """By hand: 22 A of common parts and six van bays at 6 A make 58 A of 63 A, 36 A of them on the Mill
    board's 40 A."""
    report = check_text(FILE.read_text())
    assert report.safe
    assert report.count(Severity.FAULT) == 0
    together = {(row.circuit, row.line): row.together for row in report.carried}
    assert together["mill-supply", report.carried[0].line] == 58.0
    assert max(row.together for row in report.carried if row.circuit == "mill-board") == 36.0


def test_the_example_of_the_readme_is_a_safe_site() -> None:
    section = Path("README.md").read_text().split("### The site file", 1)[1]
    example = section.split("```yaml\n", 1)[1].split("```", 1)[0]
    report = check_text(example)
    assert report.safe
    assert report.description is not None
    assert len(report.description.circuits) == 2
