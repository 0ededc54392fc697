"""`phaseyard person …` as it is typed."""

import asyncio
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from api.cli.person import person
from csms.access.people.service import PeopleService, Refusal, SignIn
from csms.clock import SystemClock
from csms.store.database import Database

PASSWORD = "loom and shuttle"


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PHASEYARD_DATA_DIR", str(tmp_path / "data"))


def run(*words: str, typed: str = "") -> Result:
    return CliRunner().invoke(person, words, input=typed)


def enter(data: Path, name: str, password: str) -> SignIn | Refusal:
    async def ask() -> SignIn | Refusal:
        database = Database(f"sqlite+aiosqlite:///{data / 'phaseyard.db'}")
        await database.open()
        try:
            return await PeopleService(database, SystemClock()).sign_in(name, password)
        finally:
            await database.close()

    return asyncio.run(ask())


def test_the_password_is_asked_for_twice_and_not_shown(tmp_path: Path) -> None:
    made = run("create", "--name", "olga", typed=f"{PASSWORD}\n{PASSWORD}\n")
    assert made.exit_code == 0
    assert made.stdout.strip() == ""
    assert PASSWORD not in made.stderr
    assert isinstance(enter(tmp_path / "data", "olga", PASSWORD), SignIn)


def test_the_password_may_come_from_standard_input(tmp_path: Path) -> None:
    assert run("create", "--name", "olga", "--password-stdin", typed=f"{PASSWORD}\n").exit_code == 0
    assert isinstance(enter(tmp_path / "data", "olga", PASSWORD), SignIn)


def test_a_new_password_replaces_the_old_one(tmp_path: Path) -> None:
    run("create", "--name", "olga", "--password-stdin", typed=PASSWORD)
    assert run("password", "--name", "olga", "--password-stdin", typed="warp and weft").exit_code == 0
    assert enter(tmp_path / "data", "olga", PASSWORD) is Refusal.WRONG
    assert isinstance(enter(tmp_path / "data", "olga", "warp and weft"), SignIn)


def test_people_are_listed_and_removed() -> None:
    run("create", "--name", "olga", "--role", "reader", "--password-stdin", typed=PASSWORD)
    assert run("list").stdout.split("\t")[:2] == ["olga", "reader"]
    assert run("remove", "--name", "olga").exit_code == 0
    assert run("list").stdout == ""


def test_what_is_wrong_is_said_in_one_line() -> None:
    failed = run("create", "--name", "olga", "--password-stdin", typed="short\n")
    assert failed.exit_code == 2
    assert failed.stderr == "password: give 10 to 1000 characters\n"
    assert run("remove", "--name", "olga").stderr == "there is no person olga\n"
