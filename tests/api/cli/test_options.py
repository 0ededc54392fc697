"""Settings out of what was typed."""

from pathlib import Path

import pytest
import typer

from api.cli.options import settings_or_fail


def test_what_is_typed_goes_before_the_file(tmp_path: Path) -> None:
    file = tmp_path / "yard.toml"
    file.write_text("http_port = 8001\nocpp_port = 9001\n")
    settings = settings_or_fail(file, data_dir=tmp_path / "new" / "data", http_port=8002, ocpp_port=None)
    assert (settings.http_port, settings.ocpp_port) == (8002, 9001)
    assert (tmp_path / "new" / "data").is_dir(), "the folder is made"


def test_another_database_needs_no_folder(tmp_path: Path) -> None:
    settings_or_fail(
        None, data_dir=tmp_path / "data", database_url="postgresql+asyncpg://yard@127.0.0.1/yard"
    )
    assert not (tmp_path / "data").exists()


@pytest.mark.parametrize(
    ("content", "named"), [("htp_port = 1", "htp_port"), ("http_port = -1", "http_port"), ("=", "--config")]
)
def test_a_wrong_setting_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: str, named: str
) -> None:
    file = tmp_path / "yard.toml"
    file.write_text(content)
    with pytest.raises(typer.Exit) as ended:
        settings_or_fail(file, data_dir=tmp_path)
    assert ended.value.exit_code == 2
    told = capsys.readouterr().err
    assert named in told
    assert len(told.splitlines()) == 1
