"""`phaseyard statements …` as it is typed, over a database that a server has filled."""

import asyncio
import csv
import shutil
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
from typer.testing import CliRunner, Result

from api.cli.statements import statements
from csms.app import Central
from csms.clock import ManualClock
from csms.documents.columns import DocumentSettings
from csms.ledger.pool import Key
from csms.ledger.statement import Issuer
from csms.ledger.terms import Terms
from csms.settings import Settings
from csms.sites.model import System

SITE, PERIOD = "weavers-yard", "2026-11"


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder in which November is issued for three flats; the issuer has no country."""
    folder = tmp_path_factory.mktemp("filled")
    asyncio.run(_fill(folder))
    return folder


@pytest.fixture
def issued(filled: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of it, which the command finds."""
    folder = Path(shutil.copytree(filled, tmp_path / "data"))
    monkeypatch.setenv("PHASEYARD_DATA_DIR", str(folder))
    return folder


async def _fill(folder: Path) -> None:
    clock = ManualClock(datetime(2026, 11, 2, 11, tzinfo=UTC))
    central = Central(Settings(data_dir=folder), clock)
    await central.database.open()
    await central.sites.create_site(
        id=SITE, name="Yard", time_zone="Europe/Oslo", currency="NOK", system=System.TN_400
    )
    for flat in (1, 2, 3):
        await central.members.create(id=f"flat-{flat}", site_id=SITE, name=f"Flat {flat}")
    issuer = Issuer(name="The Yard", tax_id="NO123456789MVA")
    await central.ledger.billing.set_terms(SITE, Terms(issuer=issuer, first_month=PERIOD))
    await central.ledger.pools.create(
        site_id=SITE,
        name="Upkeep",
        amount_minor=30_000,
        vat_minor=7_500,
        vat_percent=Decimal(25),
        currency="NOK",
        period_start=date(2026, 11, 1),
        period_end=date(2026, 12, 1),
        key=Key.EQUAL,
    )
    clock.advance(31 * 86_400)
    await central.ledger.issuing.issue(SITE, PERIOD)
    await central.tasks.close()
    await central.database.close()


def run(*words: str) -> Result:
    return CliRunner().invoke(statements, words)


def test_a_month_is_made_and_written_to_a_folder(issued: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    done = run("make", SITE, PERIOD, "--out", str(out))
    assert done.exit_code == 0, done.output
    assert "3 of 3 documents are made" in done.stdout
    assert sorted(file.name for file in out.iterdir()) == [f"S-{n:05} Flat {n}.pdf" for n in (1, 2, 3)]
    before = {file.name: file.read_bytes() for file in out.iterdir()}
    assert run("make", SITE, PERIOD, "--out", str(out)).exit_code == 0
    assert {file.name: file.read_bytes() for file in out.iterdir()} == before


def test_what_could_not_be_made_is_named_and_exit_1(issued: Path) -> None:
    async def want_invoices() -> None:
        central = Central(Settings(data_dir=issued))
        await central.database.open()
        await central.documents.set_settings(SITE, DocumentSettings(e_invoice=True))
        await central.database.close()

    asyncio.run(want_invoices())
    done = run("make", SITE, PERIOD)
    assert done.exit_code == 1
    assert "0 of 3 documents are made" in done.stdout
    assert "S-00001 Flat 1: invoice.BR-09: the issuer has no country code" in done.stderr


def test_the_table_is_written_as_csv_and_as_a_spreadsheet(issued: Path, tmp_path: Path) -> None:
    text, book = tmp_path / "deep" / "month.csv", tmp_path / "month.xlsx"
    assert run("table", SITE, PERIOD, "--out", str(text), "--language", "nl").exit_code == 0
    with text.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [(row["Lid"], row["Bruto"]) for row in rows] == [(f"Flat {n}", "125.00") for n in (1, 2, 3)]
    assert run("table", SITE, PERIOD, "--out", str(book)).exit_code == 0
    sheet = openpyxl.load_workbook(book).active
    assert sheet is not None
    assert sheet.max_row == 4


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("make", SITE, "2026-10"), "period: no statement is issued for 2026-10; issue the month first"),
        (("make", SITE, "October"), "period: must be a year and a month"),
        (("make", "nowhere", PERIOD), "there is no site nowhere"),
        (("table", SITE, PERIOD, "--out", "month.pdf"), "--out: the name must end in .csv or .xlsx"),
        (
            ("table", SITE, PERIOD, "--out", "month.csv", "--language", "fi"),
            "--language: 'fi' is no language",
        ),
        (("table", SITE, "2026-10", "--out", "month.csv"), "issue the month first"),
        (("table", SITE, PERIOD, "--out", "/dev/null/x.csv"), "--out: /dev/null/x.csv cannot be written"),
    ],
)
def test_what_cannot_be_is_exit_2_and_one_line(issued: Path, words: tuple[str, ...], says: str) -> None:
    done = run(*words)
    assert done.exit_code == 2
    assert says in done.stderr
    assert done.stderr.count("\n") == 1
