"""Reports: one file per report and this list. REST, pages and tables read the list.

A report is figures with their units in the columns' names, sums that equal their rows exactly, what
belongs to nobody in a bucket of its own, and notes that state the rules it follows and say what is
estimated or missing (`report`). `kind` is what there is to know of one before it is made; `period` turns
a site's calendar into instants; `workbook` and `chart` write it as XLSX and SVG.

SQL may live here: a report adds up over the tables of several features, in the database, with integers,
in a few queries however many sessions there are. Several share `pieces` (sessions cut at edges of
time), `spans` (times laid over each other), `sums` (energy and money), `names` and `orphans`.
"""

from api.reports import co2, energy, guests, load, losses, month, reimbursement, utilisation
from api.reports.kind import ReportKind
from api.reports.report import Report

__all__ = ["REPORTS", "Report", "ReportKind"]

REPORTS: tuple[ReportKind, ...] = (
    month.KIND,
    energy.KIND,
    reimbursement.KIND,
    load.KIND,
    utilisation.KIND,
    guests.KIND,
    losses.KIND,
    co2.KIND,
)
