"""The database for a command."""

from pathlib import Path

import pytest
import typer

from api.cli.opened import with_central, with_database
from csms.app import Central
from csms.errors import NotFound
from csms.settings import Settings
from csms.store.database import Database


async def dialect(database: Database) -> str:
    async with database.read() as connection:
        return connection.dialect.name


async def nothing_there(_: Database) -> None:
    raise NotFound("key", "accounting")


def test_the_tables_are_made_and_the_work_is_done(tmp_path: Path) -> None:
    assert with_database(Settings(data_dir=tmp_path), dialect) == "sqlite"
    assert (tmp_path / "phaseyard.db").is_file()


def test_what_is_wrong_ends_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(typer.Exit) as caught:
        with_database(Settings(data_dir=tmp_path), nothing_there)
    assert caught.value.exit_code == 2
    assert capsys.readouterr().err == "there is no key accounting\n"


def test_an_address_of_no_known_database_ends_the_command(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(typer.Exit):
        with_database(Settings(database_url="sqlite:///plain"), dialect)
    assert capsys.readouterr().err.startswith("database_url: give ")


async def no_sites(central: Central) -> int:
    return len((await central.sites.list_sites()).items)


async def not_there(central: Central) -> None:
    await central.sites.get_site("nowhere")


def test_every_service_is_there_and_no_socket(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    settings = Settings(data_dir=tmp_path, ocpp_port=0)
    assert with_central(settings, no_sites) == 0
    with pytest.raises(typer.Exit):
        with_central(settings, not_there)
    assert capsys.readouterr().err == "there is no site nowhere\n"
