"""`phaseyard simulate` as it is typed, in a process of its own."""

import json
import subprocess
import sys
from pathlib import Path

SMALL = """\
name: One car
system: TN-400
first_day: 2026-01-13
circuits: [{id: supply, limit_a: 20}]
stations: [{id: A, circuit: supply}]
arrivals:
  visits: [{model: Heron, at: "2026-01-13T20:00", hours: 2, energy_kwh: 50}]
"""


def run(*words: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", "from api.cli import main; main()", "simulate", *words]
    root = str(Path(__file__).parents[3])
    return subprocess.run(
        command,
        capture_output=True,
        text=True,
        check=False,
        cwd=cwd,
        env={"PYTHONPATH": root, "PATH": "/usr/bin:/bin"},
    )


def test_figures_and_a_picture_are_written_beside_the_file(tmp_path: Path) -> None:
    (tmp_path / "small.yaml").write_text(SMALL)
    done = run("small.yaml", "--json", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    printed = json.loads(done.stdout)
    assert printed == json.loads((tmp_path / "small.json").read_text())
    # 3 x 16 A x 230 V for two hours are 22.08 kWh; starting takes less than a minute.
    assert 21.8 < printed["delivered_kwh"] < 22.08
    assert (tmp_path / "small.svg").read_text().startswith("<svg")


def test_what_is_wrong_is_told_with_its_line(tmp_path: Path) -> None:
    (tmp_path / "wrong.yaml").write_text(SMALL.replace("limit_a: 20", "limit_a: minus"))
    done = run("wrong.yaml", cwd=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert "wrong.yaml:4:" in done.stderr
    assert "limit_a: must be a number" in done.stderr


def test_a_file_that_is_not_there_is_said(tmp_path: Path) -> None:
    done = run("none.yaml", cwd=tmp_path)
    assert done.returncode == 2
    assert "none.yaml: cannot be read" in done.stderr
