"""`phaseyard books check`, as a treasurer types it."""

import shutil
from pathlib import Path

import pytest
from sqlalchemy import update
from typer.testing import CliRunner

from api.cli import app
from csms.app import Central
from csms.clock import ManualClock
from csms.settings import Settings
from csms.store.tables.sessions import session
from tests.csms.ledger.small_yard import SITE, START, SmallYard


@pytest.fixture
async def issued(tmp_path: Path, sqlite_template: Path) -> str:
    """The address of a database with January billed, and February's data."""
    url = f"sqlite+aiosqlite:///{shutil.copyfile(sqlite_template, tmp_path / 'phaseyard.db')}"
    clock = ManualClock(START)
    central = Central(Settings(database_url=url), clock)
    await central.database.open()
    small = SmallYard(central, clock)
    await small.found()
    await small.january()
    await small.ledger.issuing.issue(SITE, "2026-01")
    await central.tasks.close()
    await central.database.close()
    return url


def check(url: str, *more: str) -> tuple[int, str, str]:
    done = CliRunner().invoke(app, ["books", "check", SITE, "--database-url", url, *more])
    return done.exit_code, done.stdout, done.stderr


def test_each_check_is_printed_with_its_figures(issued: str) -> None:
    code, out, _ = check(issued)
    assert code == 0, out
    assert out.count("PASS") == 9
    assert "NOT MEASURED  tree" in out
    assert "[chargers 3; sessions 3; sum of sessions 50.000 kWh;" in out
    assert "All checks of 1 months hold." in out


async def break_a_price(url: str) -> None:
    central = Central(Settings(database_url=url))
    await central.database.open()
    async with central.database.write() as connection:
        await connection.execute(update(session).where(session.c.id == 1).values(cost_excl_minor=1))
    await central.database.close()


async def test_a_check_that_fails_is_exit_1(issued: str) -> None:
    await break_a_price(issued)
    code, out, err = check_in_thread(issued)
    assert code == 1
    assert "FAIL          price          session 1: booked 0.01, by the stored prices 20.00" in out
    assert "1 of 10 checks fail." in err


def check_in_thread(url: str) -> tuple[int, str, str]:
    """The command runs its own loop, which a thread that has one already cannot."""
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(1) as pool:
        return pool.submit(check, url).result()


def test_a_question_that_makes_no_sense_is_exit_2(issued: str) -> None:
    code, _, err = check(issued, "--from", "January")
    assert code == 2
    assert "from: must be a year and a month" in err
    code, out, _ = check(issued, "--from", "2026-02")
    assert (code, out) == (0, "No month has been issued.\n")
