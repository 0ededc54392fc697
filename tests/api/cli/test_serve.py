"""`phaseyard serve`: what is wrong is said in one line, with exit code 2."""

import gc
import socket
from pathlib import Path

import pytest
from typer.testing import CliRunner

from api.cli import app
from api.cli.serve import loop_factory, settle

RUN = CliRunner()


def test_a_taken_port_is_one_line(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        arguments = ["serve", "--data-dir", str(tmp_path), "--host", "127.0.0.1", "--http-port", port]
        done = RUN.invoke(app, [*arguments, "--ocpp-port", "0"])
    assert done.exit_code == 2
    assert "choose other ports" in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1


def test_a_wrong_setting_names_itself(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PHASEYARD_OFFER_VALIDITY_S", "soon")
    done = RUN.invoke(app, ["serve", "--data-dir", str(tmp_path)])
    assert done.exit_code == 2
    assert done.stderr.startswith("offer_validity_s: ")
    assert len(done.stderr.strip().splitlines()) == 1


def test_settling_takes_what_is_loaded_out_of_the_collectors_sight() -> None:
    before = gc.get_freeze_count()
    settle()
    assert gc.get_freeze_count() > before
    gc.unfreeze()


def test_the_loop_is_the_fast_one_where_there_is_one() -> None:
    factory = loop_factory()
    assert factory is not None
    loop = factory()
    assert type(loop).__module__.startswith("uvloop")
    loop.close()
