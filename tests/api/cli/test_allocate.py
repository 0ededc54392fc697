"""The command as a person types it: output on stdout, one line on stderr and exit 2 for a fault."""

import json
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from api.cli.allocate import allocate

app = typer.Typer()
app.command()(allocate)

DOCUMENT = {
    "system": "TN-400",
    "circuits": [{"id": "main", "fed_from": None, "limit_a": 32}],
    "demands": [{"id": f"c{i}", "circuit": "main", "lines": ["L1", "L2", "L3"]} for i in range(3)],
}


def test_it_prints_the_allocation(tmp_path: Path) -> None:
    file = tmp_path / "yard.json"
    file.write_text(json.dumps(DOCUMENT))
    ran = CliRunner().invoke(app, [str(file)])
    assert ran.exit_code == 0
    shown = json.loads(ran.stdout)
    assert shown["offers_a"] == pytest.approx({"c0": 10.6667, "c1": 10.6667, "c2": 10.6667}, abs=0.001)
    assert CliRunner().invoke(app, [str(file)]).stdout == ran.stdout
    stepped = json.loads(CliRunner().invoke(app, [str(file), "--step-a", "1"]).stdout)
    assert stepped["offers_a"] == {"c0": 11.0, "c1": 11.0, "c2": 10.0}


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (None, "cannot be read"),
        ("{", "is not JSON"),
        ("\xff", "is not JSON"),
        ("[" * 100_000, "nested too deeply"),
        ('{"system": "TN-400", "circuits": [], "demands": []}', "circuits: "),
        (json.dumps(DOCUMENT).replace("32", "NaN"), "circuits[0].limit_a: must be a finite number"),
        (
            json.dumps(DOCUMENT).replace('"main", "lines"', '"attic", "lines"'),
            "demands[0].circuit: there is no",
        ),
    ],
)
def test_a_fault_is_one_line_and_exit_2(tmp_path: Path, content: str | None, says: str) -> None:
    file = tmp_path / "yard.json"
    if content is not None:
        file.write_bytes(content.encode("latin-1"))
    ran = CliRunner().invoke(app, [str(file)])
    assert ran.exit_code == 2
    assert ran.stdout == ""
    assert len(ran.stderr.splitlines()) == 1
    assert says in ran.stderr
