"""What the folders promise. Read with DEVELOPERS.md, "Where things are"."""

import ast
import importlib
import pkgutil
import subprocess
import tomllib
from collections.abc import Iterator
from pathlib import Path

FEATURES = (
    *("sites", "stations", "access", "metering", "sessions", "power", "tariffs", "sitefile"),
    *("ledger", "documents", "alarms", "firmware"),
)
IO_FILES = {"repository", "service", "handlers", "controller"}
IO_FOLDERS = {"inputs", "channels"}
IO_MODULES = (
    "asyncio",
    "logging",
    "sqlalchemy",
    "websockets",
    "fastapi",
    "csms.store.database",
    "csms.store.group_commit",
    "csms.store.outbox",
    "csms.store.tables",
    "csms.cluster",
    "csms.gateway",
    "csms.tasks",
)
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "requirements.lock", "LICENSE"}
FOLDERS = {"csms", "api", "tests", "tools"}
KINDS = (
    "csms/tariffs/components",
    "csms/metering/inputs",
    "csms/power/sharing/strategies",
    "csms/alarms/rules",
    "api/reports",
    "api/v1",
    "api/cli",
)
LONGEST_FILE = 400


def tracked() -> list[str]:
    """Files git knows of or would add; where there is no git, those on disk."""
    command = ["git", "ls-files", "--cached", "--others", "--exclude-standard"]
    try:
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        names = done.stdout.splitlines()
    except (OSError, subprocess.CalledProcessError):
        names = [str(p) for p in Path().rglob("*") if p.is_file()]
    return [name for name in names if Path(name).exists()]


def sources(*roots: str) -> list[Path]:
    return [Path(n) for n in tracked() if n.endswith(".py") and n.startswith(tuple(f"{r}/" for r in roots))]


def is_edge(path: Path) -> bool:
    """`tokens_repository.py` is a repository as well: a feature may have one per noun."""
    return path.stem.rpartition("_")[2] in IO_FILES or bool(IO_FOLDERS & set(path.parts))


def imports(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def test_the_top_level_is_exactly_that() -> None:
    names = {name.split("/", 1)[0] for name in tracked() if not name.startswith(".")}
    assert names <= TOP_LEVEL | FOLDERS, "new things belong into csms, api, tests or tools"


def test_decisions_do_no_io() -> None:
    faults = [
        f"{path} imports {name}: decide with values, let service or handlers fetch and store"
        for path in sources("csms")
        if path.parts[1] in [*FEATURES, "ocpp"] and not is_edge(path)
        for name in imports(path)
        if name.startswith(IO_MODULES)
    ]
    assert not faults, "\n".join(faults)


def test_sql_stays_in_store_and_repositories() -> None:
    faults = [
        f"{path} imports {name}: SQL lives in csms/store, csms/cluster and repositories"
        for path in sources("csms")
        if path.parts[1] not in ("store", "cluster") and path.stem.rpartition("_")[2] not in IO_FILES
        for name in imports(path)
        if name.startswith("sqlalchemy")
    ]
    assert not faults, "\n".join(faults)


def test_a_repository_belongs_to_its_feature() -> None:
    faults = [
        f"{path} imports {name}: ask that feature's service"
        for path in sources("csms")
        for name in imports(path)
        if name.startswith("csms.")
        and name.rpartition("_")[2].endswith("repository")
        and path.parts[1] not in (name.split(".")[1], "app.py")
    ]
    assert not faults, "\n".join(faults)


def test_every_source_has_its_twin() -> None:
    faults = []
    for path in sources("csms", "api"):
        if path.stem.startswith("__") or "migrations" in path.parts or "tables" in path.parts:
            continue
        twin = Path("tests", path.parent, f"test_{path.name}")
        if not twin.exists():
            faults.append(f"{path} has no {twin}")
    assert not faults, "\n".join(faults)


def test_every_kind_is_listed() -> None:
    faults = [
        f"{path} is not listed in {folder}/__init__.py"
        for folder in KINDS
        for path in Path(folder).glob("[!_]*.py")
        if path.stem not in Path(folder, "__init__.py").read_text()
    ]
    assert not faults, "\n".join(faults)


def test_every_package_is_in_the_import_rule_and_on_the_map() -> None:
    rules = tomllib.loads(Path("pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
    layers = " ".join(str(rule["layers"]) for rule in rules if rule["type"] == "layers")
    developers = Path("DEVELOPERS.md").read_text()
    faults = []
    for module in pkgutil.iter_modules(["csms"]):
        if module.ispkg and f"csms.{module.name}" not in layers:
            faults.append(f"csms.{module.name} is in no layer of pyproject.toml")
        if module.ispkg and f"`{module.name}/`" not in developers:
            faults.append(f"csms/{module.name}/ is not on the map of DEVELOPERS.md")
    assert not faults, "\n".join(faults)


def test_every_package_says_what_it_is() -> None:
    packages = [path for path in sources("csms", "api") if path.name == "__init__.py"]
    silent = [str(p) for p in packages if not ast.get_docstring(ast.parse(p.read_text()))]
    assert silent == [], "a package's docstring is its design page"


def test_files_are_small() -> None:
    long = {str(p): len(p.read_text().splitlines()) for p in sources("csms", "api", "tools")}
    faults = [
        f"{name} has {n} lines" for name, n in long.items() if n > LONGEST_FILE and "migrations" not in name
    ]
    assert not faults, "split by idea: " + "\n".join(faults)


def test_the_lock_file_holds_no_address() -> None:
    assert "://" not in Path("requirements.lock").read_text()


def test_every_module_can_be_imported() -> None:
    for path in sources("csms", "api"):
        if "migrations" not in path.parts and path.name != "__main__.py":
            importlib.import_module(".".join(path.with_suffix("").parts).removesuffix(".__init__"))
