"""The simulator is the independent other side: it shares no code with the central system."""

import ast
from pathlib import Path

FILES = sorted(Path(__file__).parents[3].joinpath("tools", "simulator").glob("*.py"))


def test_imports_nothing_of_the_central_system_nor_of_the_reference_package() -> None:
    assert len(FILES) > 20
    faults = []
    for path in FILES:
        for node in ast.walk(ast.parse(path.read_text())):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            faults += [
                f"{path.name} imports {n}" for n in names if n.split(".")[0] in ("csms", "api", "ocpp")
            ]
    assert faults == []
