"""`phaseyard site …` as it is typed."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from api.cli.site import site

FILE = "tools/weavers_yard/weavers-yard.yaml"


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PHASEYARD_DATA_DIR", str(tmp_path / "data"))


def run(*words: str) -> Result:
    return CliRunner().invoke(site, words)


def changed(tmp_path: Path, before: str, after: str) -> str:
    text = Path(FILE).read_text()
    assert before in text
    path = tmp_path / "changed.yaml"
    path.write_text(text.replace(before, after, 1))
    return str(path)


def test_a_safe_site_is_exit_0() -> None:
    done = run("check", FILE)
    assert done.exit_code == 0
    assert (
        "  mill-supply  L1        22.0      36.0      58.0      63.0       5.0 A" in done.stdout.splitlines()
    )
    assert "Safe in silence: 0 faults" in done.stdout
    assert "Phaseyard is not a protective device" in done.stdout


def test_an_unsafe_site_is_exit_1_with_the_place_of_each_fault(tmp_path: Path) -> None:
    """Common parts of 28 A instead of 22 A: 64 A on 63 A."""
    path = changed(tmp_path, "worst_base_a: 22", "worst_base_a: 28")
    done = run("check", path)
    assert done.exit_code == 1
    faults = [line for line in done.stdout.splitlines() if ": fault: " in line]
    assert len(faults) == 3
    assert faults[0].startswith(f"{path}:15:14: fault: circuits[0].limit_a.L1: L1: 28 A of building")
    assert "make 64 A, above the limit of 63 A" in faults[0]
    data = json.loads(run("check", "--json", path).stdout)
    assert data["safe"] is False
    assert [(f["line"], f["column"]) for f in data["findings"] if f["severity"] == "fault"] == [(15, 14)] * 3


@pytest.mark.parametrize("name", ["nowhere.yaml", "latin.yaml", "broken.yaml"])
def test_what_cannot_be_read_is_exit_2_and_one_line(tmp_path: Path, name: str) -> None:
    (tmp_path / "latin.yaml").write_bytes("site: Mühle".encode("latin-1"))
    (tmp_path / "broken.yaml").write_text("site: [")
    for command in ("check", "import"):
        done = run(command, str(tmp_path / name))
        assert done.exit_code == 2
        assert done.stdout == ""
        assert len(done.stderr.splitlines()) == 1
        assert name in done.stderr


def test_import_and_export(tmp_path: Path) -> None:
    done = run("import", FILE)
    assert (done.exit_code, done.stdout.split(",")[0]) == (0, "weavers-yard: 28 new or changed: weavers-yard")
    assert run("import", FILE).stdout == "weavers-yard: 0 new or changed: nothing\n"
    exported = run("export", "weavers-yard")
    assert exported.exit_code == 0
    again = tmp_path / "again.yaml"
    again.write_text(exported.stdout)
    assert run("import", str(again)).stdout == "weavers-yard: 0 new or changed: nothing\n"
    fewer = changed(tmp_path, "name: Court 1\n", "name: Court one\n")
    assert run("import", fewer).stdout == "weavers-yard: 1 new or changed: COURT-01\n"


def test_an_unsafe_file_is_not_taken_in(tmp_path: Path) -> None:
    done = run("import", changed(tmp_path, "limit_a: 40", "limit_a: 30"))
    assert done.exit_code == 1
    assert "make 36 A, above the limit of 30 A" in done.stderr
    missing = run("export", "weavers-yard")
    assert (missing.exit_code, missing.stderr) == (2, "there is no site weavers-yard\n")
