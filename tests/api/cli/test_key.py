"""`phaseyard key …` as it is typed."""

import asyncio
import re
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from api.cli.key import key
from csms.access.keys.service import KeysService
from csms.access.people.principal import Principal, PrincipalKind, Role
from csms.clock import SystemClock
from csms.store.database import Database


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PHASEYARD_DATA_DIR", str(tmp_path / "data"))


def run(*words: str) -> Result:
    return CliRunner().invoke(key, words)


def who(data: Path, secret: str) -> Principal | None:
    async def ask() -> Principal | None:
        database = Database(f"sqlite+aiosqlite:///{data / 'phaseyard.db'}")
        await database.open()
        try:
            return await KeysService(database, SystemClock()).check(secret)
        finally:
            await database.close()

    return asyncio.run(ask())


def test_create_prints_the_key_alone(tmp_path: Path) -> None:
    made = run("create", "--name", "accounting", "--role", "reader")
    assert made.exit_code == 0
    assert re.fullmatch(r"py_[0-9a-z]{32}\n", made.stdout)
    assert made.stderr == ""
    expected = Principal(PrincipalKind.KEY, "accounting", Role.READER)
    assert who(tmp_path / "data", made.stdout.strip()) == expected


def test_without_a_role_the_key_may_do_everything() -> None:
    run("create", "--name", "accounting")
    assert run("list").stdout.split("\t")[:3] == ["accounting", "manager", "good"]


def test_list_never_shows_a_key_and_revoke_closes_it(tmp_path: Path) -> None:
    secret = run("create", "--name", "accounting").stdout.strip()
    assert run("revoke", "--name", "accounting").exit_code == 0
    listed = run("list").stdout
    assert listed.split("\t")[2] == "revoked"
    assert secret not in listed
    assert who(tmp_path / "data", secret) is None


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("create", "--name", "accounting"), "already a key named accounting"),
        (("create", "--name", " "), "name: give 1 to"),
        (("revoke", "--name", "nobody"), "there is no key nobody"),
    ],
)
def test_what_is_wrong_is_said_in_one_line(words: tuple[str, ...], says: str) -> None:
    run("create", "--name", "accounting")
    failed = run(*words)
    assert failed.exit_code == 2
    assert failed.stdout == ""
    assert says in failed.stderr
    assert failed.stderr.count("\n") == 1


def test_a_role_that_does_not_exist_is_refused() -> None:
    assert run("create", "--name", "accounting", "--role", "king").exit_code == 2
