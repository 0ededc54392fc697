"""Parts of a report: in order, twice, with gaps, without an end."""

import pytest

from csms.stations.reports import MOST_ITEMS, MOST_OPEN, OpenReports, Report


@pytest.fixture
def reports() -> OpenReports[str]:
    return OpenReports()


def test_one_part_is_a_report(reports: OpenReports[str]) -> None:
    assert reports.add("B1", 1, ("a",), last=True, sequence=0) == Report(("a",), ())


@pytest.mark.parametrize("first", [0, 1])
def test_parts_are_joined_whether_counted_from_0_or_1(reports: OpenReports[str], first: int) -> None:
    assert reports.add("B1", 1, ("a",), last=False, sequence=first) is None
    assert reports.add("B1", 1, ("b",), last=False, sequence=first + 1) is None
    assert reports.add("B1", 1, ("c",), last=True, sequence=first + 2) == Report(("a", "b", "c"), ())


def test_parts_without_numbers_are_joined(reports: OpenReports[str]) -> None:
    assert reports.add("B1", 1, ("a",), last=False) is None
    assert reports.add("B1", 1, ("b",), last=True) == Report(("a", "b"), ())


def test_a_part_that_comes_twice_counts_once(reports: OpenReports[str]) -> None:
    reports.add("B1", 1, ("a",), last=False, sequence=0)
    reports.add("B1", 1, ("a",), last=False, sequence=0)
    assert reports.add("B1", 1, ("b",), last=True, sequence=1) == Report(("a", "b"), ())


def test_what_is_missing_is_named(reports: OpenReports[str]) -> None:
    reports.add("B1", 1, ("a",), last=False, sequence=1)
    assert reports.add("B1", 1, ("b",), last=True, sequence=4) == Report(("a", "b"), (0, 2, 3))


def test_stations_and_requests_are_kept_apart(reports: OpenReports[str]) -> None:
    reports.add("B1", 1, ("a",), last=False, sequence=0)
    reports.add("B2", 1, ("b",), last=False, sequence=0)
    reports.add("B1", 2, ("c",), last=False, sequence=0)
    assert reports.add("B2", 1, (), last=True, sequence=1) == Report(("b",), ())


def test_a_report_without_end_is_forgotten(reports: OpenReports[str]) -> None:
    for request in range(MOST_OPEN + 1):
        reports.add("B1", request, ("a",), last=False, sequence=0)
    assert reports.add("B1", MOST_OPEN, (), last=True, sequence=1) == Report(("a",), ())
    assert reports.add("B1", 0, (), last=True, sequence=1) == Report((), ())


def test_a_flood_is_cut(reports: OpenReports[str]) -> None:
    reports.add("B1", 1, ("a",) * (MOST_ITEMS - 1), last=False, sequence=0)
    report = reports.add("B1", 1, ("b",) * 5, last=True, sequence=1)
    assert report is not None
    assert len(report.items) == MOST_ITEMS


def test_a_giant_number_is_not_counted_out(reports: OpenReports[str]) -> None:
    report = reports.add("B1", 2, ("a",), last=True, sequence=2_000_000_000)
    assert report == Report(("a",), tuple(range(100)))
