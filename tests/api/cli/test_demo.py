"""`phaseyard demo` starts the program of the source tree, or says where it is to be had."""

import os
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from api.cli import app

RUN = CliRunner()


def test_it_becomes_the_program_with_the_options_given(monkeypatch: pytest.MonkeyPatch) -> None:
    became: list[list[str]] = []
    monkeypatch.setattr(os, "execv", lambda _program, command: became.append(command))
    monkeypatch.setattr(os, "chdir", lambda _folder: None)
    done = RUN.invoke(app, ["demo", "--http-port", "8088", "--speed", "20", "--data-dir", "here"])
    assert done.exit_code == 0
    (command,) = became
    assert command[:3] == [sys.executable, "-m", "tools.weavers_yard"]
    assert command[command.index("--http-port") + 1] == "8088"
    assert float(command[command.index("--speed") + 1]) == 20
    assert command[command.index("--data-dir") + 1] == str(Path("here").absolute())


def test_without_the_source_tree_that_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.modules["api.cli.demo"], "PROGRAM", "tools.no_such_program")
    done = RUN.invoke(app, ["demo"])
    assert done.exit_code == 2
    assert "source tree" in done.stderr
