"""A statement run: 1,000 members and 100,000 sessions with a price every quarter of an hour.

The run reads sessions, registers, owners and invoices, cuts, prices every session again out of the stored
market prices for its proof, shares three invoices, and drafts and proves 1,000 statements; then it writes
them with their entries and inputs. Beside it, in the same process and on the same file, one SQL query by
hand that does the one sum that can be done in SQL: each member's energy by the market's price of its quarter
of an hour, rounded per session. Both must come to the same, to the cent. Processor time, all threads.
"""

import asyncio
import resource
import sqlite3
import tempfile
import time
from pathlib import Path

from api.cli.serve import settle
from csms.ledger.statement import LineKind
from tools.bench import statements_garage
from tools.bench.statements_garage import MARKUP_MICRO_PER_MWH, MONTH, SITE, Garage

MEMBERS, SESSIONS = 1_000, 100_000

QUERY = f"""
WITH told AS (
    SELECT id AS session_id, member_id, started_at AS at, register_start_wh AS wh FROM session
    UNION ALL
    SELECT r.session_id, s.member_id, r.at, r.register_wh FROM reading r JOIN session s ON s.id = r.session_id
    UNION ALL
    SELECT id, member_id, ended_at, register_stop_wh FROM session
),
piece AS (
    SELECT session_id, member_id, LAG(at) OVER one AS start, wh - LAG(wh) OVER one AS wh
    FROM told WINDOW one AS (PARTITION BY session_id ORDER BY at)
),
cost AS (
    SELECT p.session_id, p.member_id, SUM(p.wh * (m.micro_per_mwh + {MARKUP_MICRO_PER_MWH})) AS exact
    FROM piece p JOIN market_price m ON m.document_id = ? AND m.start_at =
        strftime('%Y-%m-%d %H:%M:%S.000000', strftime('%s', p.start) / 900 * 900, 'unixepoch')
    WHERE p.start IS NOT NULL
    GROUP BY p.session_id, p.member_id
)
SELECT member_id, SUM((2 * exact + 10000000000) / 20000000000) FROM cost GROUP BY member_id
"""


def by_sql(garage: Garage) -> tuple[dict[str, int], float]:
    """Each member's energy in cents, and the seconds it took."""
    database = sqlite3.connect(garage.path)
    before = time.process_time()
    found = dict(database.execute(QUERY, (garage.document_id,)).fetchall())
    spent = time.process_time() - before
    database.close()
    return found, spent


def peak_mib() -> float:
    """The most memory that the process has held so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


async def main() -> None:
    """Build the garage, run both, and print the figures."""
    settle()
    with tempfile.TemporaryDirectory() as folder:
        garage = await statements_garage.build(Path(folder), MEMBERS, SESSIONS)
        print(f"{MEMBERS:,} members, {garage.sessions:,} sessions, {garage.readings:,} readings in a month")
        try:
            await compare(garage)
        finally:
            await garage.central.tasks.close()
            await garage.central.database.close()


async def compare(garage: Garage) -> None:
    """Take the times of both, thrice, in turn; then of the issue, once."""
    issuing = garage.central.ledger.issuing
    ours, theirs = [], []
    before_mib = peak_mib()
    for _ in range(3):
        sums, spent = await asyncio.to_thread(by_sql, garage)
        theirs.append(spent)
        begun = time.process_time()
        preview = await issuing.preview(SITE, MONTH)
        ours.append(time.process_time() - begun)
        assert preview.ready, [check.words for check in preview.checks if check.failed]
        energy = {
            s.recipient.member_id: sum(line.net_minor for line in s.lines if line.kind is LineKind.SESSIONS)
            for s in preview.statements
        }
        assert energy == sums, "the run and the query must come to the same"
    begun = time.process_time()
    await issuing.issue(SITE, MONTH)
    issued = time.process_time() - begun
    run, query = sorted(ours)[1], sorted(theirs)[1]
    print(f"  run with proof, median      {run:7.2f} s   ({min(ours):.2f} to {max(ours):.2f})")
    print(f"  one SQL query, median       {query:7.2f} s   ({min(theirs):.2f} to {max(theirs):.2f})")
    print(f"  run beside the query        {run / query:7.1f} times   (to beat: 5)")
    print(f"  issue, with all writing     {issued:7.2f} s   {issued / query:.1f} times")
    print(f"  memory at its peak          {peak_mib():7.0f} MiB   ({before_mib:.0f} before)")
