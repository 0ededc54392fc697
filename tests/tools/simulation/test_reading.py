"""Files are read strictly; every fault is told with its line."""

from datetime import date
from pathlib import Path

import pytest

from csms.power.fallback import overloads_in_silence
from csms.power.installation import System
from tools.simulation.description import LoadKind, Trouble, Use
from tools.simulation.reading import BadFile, read
from tools.simulation.server import installation

GOOD = """\
name: A yard
system: TN-400
first_day: 2026-01-13
circuits:
  - {id: supply, limit_a: 63, worst_base_a: 20, meter: {period_s: 5}}
  - {id: court, fed_from: supply, limit_a: 50}
stations:
  - {id: C, count: 3, circuit: court}
  - {id: V, circuit: supply, use: vans, rotation: [L2, L3, L1]}
loads:
  - {circuit: supply, kind: constant, current_a: 5, steps: [{at: "17:05", minutes: 10, current_a: 9}]}
arrivals:
  visits: [{model: Barge, at: "2026-01-13T18:00", hours: 9, energy_kwh: 40, bay: 2}]
planned: true
disturbances:
  - {kind: meter_silent, circuit: supply, at: "2026-01-13T18:30", minutes: 10}
"""


def write(folder: Path, text: str) -> Path:
    path = folder / "yard.yaml"
    path.write_text(text)
    return path


def test_a_good_file(tmp_path: Path) -> None:
    found = read(write(tmp_path, GOOD))
    assert (found.system, found.first_day, found.days) == (System.TN_400, date(2026, 1, 13), 1)
    assert [s.id for s in found.stations] == ["C-01", "C-02", "C-03", "V"]
    assert [s.rotation for s in found.stations] == [(0, 1, 2), (1, 2, 0), (2, 0, 1), (1, 2, 0)]
    assert found.stations[3].use is Use.VANS
    assert found.loads[0].steps[0].at_s == 17 * 3600 + 300
    assert found.loads[0].kind is LoadKind.CONSTANT
    assert (found.planned, found.arrivals.visits[0].bay) == (True, 2)
    assert found.disturbances[0].kind is Trouble.METER_SILENT
    assert found.disturbances[0].at.isoformat() == "2026-01-13T18:30:00+01:00"


@pytest.mark.parametrize("name", ["weavers_yard", "a_year"])
def test_the_samples_are_good_and_safe_in_silence(name: str) -> None:
    found = read(Path(f"tools/simulation/{name}.yaml"))
    assert len(found.stations) == 24
    assert overloads_in_silence(installation(found)) == ()


@pytest.mark.parametrize(
    ("old", "new", "line", "said"),
    [
        ("limit_a: 63", "limit_a: -1", 5, "limit_a"),
        ("limit_a: 63", "limit_a: .nan", 5, "finite"),
        ("system: TN-400", "system: TN-500", 2, "TN-500"),
        ("fed_from: supply", "fed_from: suply", 6, "suply"),
        ("fed_from: supply", "fed_from: court", 6, "court"),
        ("circuit: court}", "circuit: cort}", 8, "there is no circuit 'cort'"),
        ("use: vans", "uses: vans", 9, "there is no such key"),
        ("[L2, L3, L1]", "[L2, L2, L1]", 9, "each once"),
        ("17:05", "25:05", 11, "no time of day"),
        ("model: Barge", "model: Bargee", 13, "is none of"),
        ("2026-01-13T18:00", "yesterday", 13, "no local time"),
        ("minutes: 10}\n", "minutes: ten}\n", 16, "must be a number"),
        ("first_day: 2026-01-13", "first_day: 2026-13-13", 3, "is no day"),
        ("name: A yard\n", "", 1, "name is missing"),
    ],
)
def test_what_is_wrong_has_its_line(tmp_path: Path, old: str, new: str, line: int, said: str) -> None:
    assert old in GOOD
    path = write(tmp_path, GOOD.replace(old, new, 1))
    with pytest.raises(BadFile) as caught:
        read(path)
    assert f"yard.yaml:{line}:" in str(caught.value)
    assert said in str(caught.value)


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    path = write(tmp_path, GOOD.replace("limit_a: 63", "limit_a: x").replace("limit_a: 50", "limit_a: y"))
    with pytest.raises(BadFile) as caught:
        read(path)
    assert len(caught.value.faults) == 2


def test_no_yaml(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="is not YAML"):
        read(write(tmp_path, "a: [1"))
