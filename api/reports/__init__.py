"""Reports: one file per report and this list. REST, pages and CSV read the list.

A report is figures with their units in the columns' names, sums that equal their rows exactly, what
belongs to nobody in a bucket of its own, and notes that state the rules it follows (`report`).
SQL may live here: a report adds up over the tables of several features, in the database, with integers.
`period` turns a site's calendar months into instants.
"""

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from api.reports import month
from api.reports.report import Column, Report

__all__ = ["REPORTS", "Report", "ReportKind"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportKind:
    """`run(central, site_id, month, by)` makes the report of one site and month, by one of `by`."""

    id: str
    title: str
    run: Callable[..., Awaitable[Report]]
    by: Sequence[StrEnum]
    columns: tuple[Column, ...]


REPORTS: tuple[ReportKind, ...] = (
    ReportKind(
        id=month.ID, title=month.TITLE, run=month.month_report, by=tuple(month.By), columns=month.COLUMNS
    ),
)
