"""`python -m tools.simulation FILE.yaml`: runs it and writes the figures and the picture beside the file."""

import argparse
import json
import sys
from pathlib import Path

from tools.simulation.picture import picture
from tools.simulation.reading import BadFile, read
from tools.simulation.report import report, text
from tools.simulation.world import simulate


def main() -> int:
    """Exit 0; 1 when a limit was passed beyond the cars' reaction or a breaker tripped; 2 for bad input."""
    parser = argparse.ArgumentParser(
        prog="phaseyard simulate", description="A site's days in accelerated time."
    )
    parser.add_argument("file", type=Path, help="what is simulated, as YAML")
    parser.add_argument(
        "--out-dir", type=Path, help="where the figures and the picture go; default: beside it"
    )
    parser.add_argument("--json", action="store_true", help="print the figures as JSON")
    given = parser.parse_args()
    try:
        description = read(given.file)
    except BadFile as error:
        sys.stderr.write(f"{error}\n")
        return 2
    except (OSError, UnicodeDecodeError) as error:
        sys.stderr.write(f"{given.file}: cannot be read: {error}\n")
        return 2
    outcomes = simulate(description)
    found = report(outcomes)
    folder: Path = given.out_dir or given.file.parent
    try:
        folder.mkdir(parents=True, exist_ok=True)
        figures, drawn = folder / f"{given.file.stem}.json", folder / f"{given.file.stem}.svg"
        figures.write_text(json.dumps(found.as_json(), indent=2) + "\n", encoding="utf-8")
        drawn.write_text(picture(outcomes), encoding="utf-8")
    except OSError as error:
        sys.stderr.write(f"--out-dir: {folder} cannot be written: {error}\n")
        return 2
    sys.stdout.write((json.dumps(found.as_json(), indent=2) if given.json else text(found)) + "\n")
    sys.stderr.write(f"figures: {figures}\npicture: {drawn}\n")
    return 0 if found.safe else 1


if __name__ == "__main__":
    sys.exit(main())
