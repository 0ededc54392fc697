"""Settings: three sources, clear refusals, and every one in the README."""

from pathlib import Path

import pytest

from csms.errors import InvalidInput
from csms.settings import PREFIX, Settings, load_settings


def test_given_beats_environment_beats_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    config = tmp_path / "phaseyard.toml"
    config.write_text("ocpp_port = 1111\nhttp_port = 2222\nheartbeat_s = 33\n")
    monkeypatch.setenv("PHASEYARD_HTTP_PORT", "3333")
    settings = load_settings(config, heartbeat_s=44, ocpp_port=None)
    assert (settings.ocpp_port, settings.http_port, settings.heartbeat_s) == (1111, 3333, 44)


def test_the_database_is_sqlite_in_the_data_folder_unless_said(tmp_path: Path) -> None:
    assert load_settings(data_dir=tmp_path).url.endswith(f"{tmp_path}/phaseyard.db")
    url = "postgresql+asyncpg://yard@db/phaseyard"
    assert load_settings(database_url=url).url == url


def test_an_unknown_variable_with_our_prefix_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PHASEYARD_OCPP_PROT", "9000")
    with pytest.raises(InvalidInput, match="PHASEYARD_OCPP_PROT: there is no such setting"):
        load_settings()


@pytest.mark.parametrize(
    ("name", "value"), [("ocpp_port", "many"), ("ocpp_port", "70000"), ("offer_validity_s", "1")]
)
def test_a_wrong_value_names_its_field(name: str, value: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        load_settings(None, **{name: value})
    assert refused.value.field == name


def test_an_unknown_key_in_the_file_names_itself(tmp_path: Path) -> None:
    config = tmp_path / "phaseyard.toml"
    config.write_text("ocpp_prot = 1\n")
    with pytest.raises(InvalidInput) as refused:
        load_settings(config)
    assert refused.value.field == "ocpp_prot"


def test_a_file_that_is_not_toml_is_said(tmp_path: Path) -> None:
    config = tmp_path / "phaseyard.toml"
    config.write_text("ocpp_port: 1")
    with pytest.raises(InvalidInput, match="is not TOML"):
        load_settings(config)


def test_a_missing_file_is_said(tmp_path: Path) -> None:
    with pytest.raises(InvalidInput, match="is not a file"):
        load_settings(tmp_path / "none.toml")


def test_every_setting_is_in_the_readme() -> None:
    readme = Path("README.md").read_text()
    missing = [
        name
        for name, field in Settings.model_fields.items()
        if f"`{PREFIX}{name.upper()}`" not in readme or str(field.description) not in readme
    ]
    assert missing == [], "add a row to the settings table of README.md for each of these"
