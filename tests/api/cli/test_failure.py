"""How a command says no."""

import pytest
import typer

from api.cli.failure import fail
from csms.errors import InvalidInput


def test_one_line_on_standard_error_and_exit_code_2(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(typer.Exit) as ended:
        fail(InvalidInput("limit_a.L1", "must not be\nnegative"))
    assert ended.value.exit_code == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert shown.err == "limit_a.L1: must not be negative\n"
