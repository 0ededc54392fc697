"""How a command says no."""

import pytest
import typer

from api.cli.failure import fail
from csms.errors import InvalidInput


def test_one_line_on_standard_error_and_exit_code_2(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(typer.Exit) as ended:
        fail(InvalidInput("limit_a", "must not be negative,\nbut is -1 A"))
    assert ended.value.exit_code == 2
    told = capsys.readouterr()
    assert (told.out, told.err) == ("", "limit_a: must not be negative, but is -1 A\n")
