"""PDFs: a month's statements of 20 sessions each, beside the shortest page that typst can make.

Cold is a process of its own, from its start to the first PDF, imports included. Warm is every statement
once, each with data of its own: one thread, then two as the batch run has them. With the
electronic invoice inside, pypdf and factur-x do most of the work, and hold the interpreter meanwhile.
"""

import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from csms.documents import typeset
from csms.documents.columns import DocumentSettings
from csms.documents.making import make
from csms.documents.service import AT_ONCE
from csms.ledger.statement import (
    Balance,
    DayEnergy,
    Issuer,
    Line,
    LineKind,
    Recipient,
    SessionLine,
    Statement,
    StatementKind,
    Unit,
    VatCategory,
    VatTotal,
)

FIRST = date(2026, 1, 1)
PLAIN, ELECTRONIC = DocumentSettings(), DocumentSettings(e_invoice=True)
COUNT, FEWER, ROUNDS = 60, 12, 3
COLD = """
from csms.documents.making import make
from tools.bench.documents import PLAIN, invented
make(invented(1), PLAIN)
"""


def invented(member: int, sessions: int = 20) -> Statement:
    """A statement that is like no other: 100 kWh at 0.25 and something, 25 % VAT."""
    energy_wh = 5000 + member
    told = []
    for n in range(sessions):
        start = datetime(2026, 1, 1, 17, tzinfo=UTC) + timedelta(hours=n * 720 // sessions)
        told.append(
            SessionLine(
                session_id=member * 1000 + n,
                start=start,
                stop=start + timedelta(hours=2, minutes=n % 60),
                station_id=f"yard-{member}",
                station=f"Courtyard {member}",
                token=f"04A2C{member:05}",
                register_start_wh=member * 10_000 + n * energy_wh,
                register_stop_wh=member * 10_000 + (n + 1) * energy_wh,
                energy_wh=energy_wh,
                cost_minor=125,
            )
        )
    net = 2500 + member
    vat = (net + 2) // 4 if net % 4 != 2 else net // 4 + 1
    line = Line(
        number=1,
        kind=LineKind.SESSIONS,
        arguments={"tariff": "Residents"},
        quantity=Decimal(1),
        unit=Unit.ONE,
        unit_price=Decimal(net).scaleb(-2),
        net_minor=net,
        vat_category=VatCategory.STANDARD,
        vat_percent=Decimal(25),
    )
    days = [FIRST + timedelta(days=n) for n in range(31)]
    return Statement(
        id=f"st_{member}",
        kind=StatementKind.STATEMENT,
        series="WY",
        sequence=member,
        number=f"WY-{member:05}",
        issued_on=date(2026, 2, 3),
        due_on=date(2026, 2, 17),
        site_id="weavers-yard",
        site_name="Weavers' Yard",
        time_zone="Europe/Oslo",
        language=("de", "en", "nb", "sv", "nl", "fr")[member % 6],
        period_start=FIRST,
        period_end=date(2026, 2, 1),
        issuer=Issuer(name="Weavers' Yard", address=("Mill Lane 3",), tax_id="NO123456789MVA", country="NO"),
        recipient=Recipient(member_id=f"flat-{member}", name=f"Flat {member}"),
        currency="EUR",
        lines=(line,),
        vat=(VatTotal(category=VatCategory.STANDARD, percent=Decimal(25), base_minor=net, vat_minor=vat),),
        net_minor=net,
        vat_minor=vat,
        gross_minor=net + vat,
        balance=Balance(opening_minor=0, charged_minor=net + vat, paid_minor=0, closing_minor=net + vat),
        sessions=tuple(told),
        days=tuple(DayEnergy(day, energy_wh * (n % 3)) for n, day in enumerate(days)),
        energy_wh=energy_wh * sessions,
    )


def figures_of(work: Callable[[Sequence[Statement]], None], count: int) -> str:
    """Processor time for each of `count` documents and how many a second by the clock, each round with
    other members: median, lowest, highest."""
    spent, rates = [], []
    for number in range(ROUNDS):
        statements = [invented(100 + number * count + n) for n in range(count)]
        begun, before = time.perf_counter(), time.process_time()
        work(statements)
        spent.append(1000 * (time.process_time() - before) / count)
        rates.append(count / (time.perf_counter() - begun))
    return f"{_shown(spent)} ms each {_shown(rates)} a second"


def _shown(figures: list[float]) -> str:
    return f"{statistics.median(figures):7.1f} ({min(figures):.1f} to {max(figures):.1f})"


def one_by_one(settings: DocumentSettings) -> Callable[[Sequence[Statement]], None]:
    def work(statements: Sequence[Statement]) -> None:
        for each in statements:
            make(each, settings)

    return work


def two_at_a_time(settings: DocumentSettings) -> Callable[[Sequence[Statement]], None]:
    def work(statements: Sequence[Statement]) -> None:
        with ThreadPoolExecutor(AT_ONCE) as pool:
            list(pool.map(lambda each: make(each, settings), statements))

    return work


def bare(statements: Sequence[Statement]) -> None:
    """One line of text on a page, which is what typst itself costs."""
    import typst

    for each in statements:
        typst.compile(
            b"#sys.inputs.data",
            font_paths=typeset._fonts(),
            sys_inputs={"data": each.number},
            format="pdf",
            pdf_standards=["a-3b"],
            timestamp=1_770_000_000,
        )


def cold() -> float:
    """Seconds of a process that makes one document and ends."""
    begun = time.perf_counter()
    subprocess.run([sys.executable, "-c", COLD], check=True)
    return time.perf_counter() - begun


async def main() -> None:
    """Print the figures, after checking that every document is its own."""
    make(invented(1), ELECTRONIC)
    hashes = {make(invented(n), PLAIN).hash for n in (1, 2, 1)}
    assert len(hashes) == 2, "the same statement gives the same bytes, another gives others"
    assert len(make(invented(3, 300), PLAIN).pdf) > len(make(invented(3), PLAIN).pdf)
    print("Statements of 20 sessions: processor time of each, how many a second; median (lowest to highest)")
    print(f"  bare typst, one line             {figures_of(bare, COUNT)}")
    print(f"  PDF/A-3b, one thread             {figures_of(one_by_one(PLAIN), COUNT)}")
    print(f"  PDF/A-3b, two threads            {figures_of(two_at_a_time(PLAIN), COUNT)}")
    print(f"  with EN 16931, one thread        {figures_of(one_by_one(ELECTRONIC), FEWER)}")
    print(f"  with EN 16931, two threads       {figures_of(two_at_a_time(ELECTRONIC), FEWER)}")
    short, long = (len(make(invented(9, sessions), PLAIN).pdf) // 1000 for sessions in (20, 300))
    print(f"  size: 20 sessions {short} kB, 300 sessions {long} kB")
    figures = sorted(cold() for _ in range(ROUNDS))
    print(f"Cold, a process for one document: {figures[1]:.2f} s ({figures[0]:.2f} to {figures[-1]:.2f})")
