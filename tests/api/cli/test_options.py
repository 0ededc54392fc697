"""Options that several commands share."""

from pathlib import Path

import pytest
import typer

from api.cli.options import settings_or_fail


def test_the_data_folder_is_made(tmp_path: Path) -> None:
    settings = settings_or_fail(None, data_dir=tmp_path / "a" / "b", http_port=None)
    assert (tmp_path / "a" / "b").is_dir()
    assert settings.http_port == 8080


def test_with_a_database_elsewhere_no_folder_is_made(tmp_path: Path) -> None:
    settings_or_fail(None, data_dir=tmp_path / "none", database_url="postgresql+asyncpg://db/x")
    assert not (tmp_path / "none").exists()


def test_a_wrong_value_ends_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(typer.Exit) as ended:
        settings_or_fail(tmp_path / "none.toml")
    assert ended.value.exit_code == 2
    assert capsys.readouterr().err.startswith("--config: ")
