"""`phaseyard demo` hands over to the program beside the packages."""

import os
import sys
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from api.cli.demo import demo

app = typer.Typer()
app.command()(demo)


def test_it_becomes_the_program_with_the_same_options(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    became: list[list[str]] = []
    monkeypatch.setattr(os, "execv", lambda _path, command: became.append(command))
    monkeypatch.chdir(tmp_path)
    ran = CliRunner().invoke(
        app, ["--http-port", "8001", "--ocpp-port", "9001", "--speed", "5", "--data-dir", "d"]
    )
    assert ran.exit_code == 0, ran.output
    ports = ["--http-port", "8001", "--ocpp-port", "9001", "--speed", "5.0"]
    expected = [sys.executable, "-m", "tools.weavers_yard", *ports, "--data-dir", str(tmp_path / "d")]
    assert became == [expected]
    assert Path("tools/weavers_yard").is_dir(), "it runs where the program is"


def test_where_the_source_tree_is_not_that_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(demo.__globals__, "PROGRAM", "tools.not_here")
    ran = CliRunner().invoke(app, [])
    assert ran.exit_code == 2
    assert "clone it and run tools/demo" in ran.stderr
