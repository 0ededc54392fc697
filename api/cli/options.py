"""Options that several commands share, and the settings made of them."""

from pathlib import Path
from typing import Annotated, Any

import typer

from api.cli.failure import fail
from csms.errors import InvalidInput
from csms.settings import Settings, load_settings

Config = Annotated[Path | None, typer.Option(help="TOML file with settings", metavar="FILE")]
DataDir = Annotated[
    Path | None, typer.Option(help="Folder for the database and the secrets", metavar="FOLDER")
]
DatabaseUrl = Annotated[str | None, typer.Option(help="PostgreSQL instead of the file in the data folder")]


def settings_or_fail(config: Path | None, **given: Any) -> Settings:
    """Settings from the command line, the environment and the file; ends the command when wrong."""
    try:
        settings = load_settings(config, **given)
    except InvalidInput as error:
        fail(error)
    if not settings.database_url:
        settings.data_dir.mkdir(parents=True, exist_ok=True)
    return settings
