"""`phaseyard serve` as a process of its own, to be killed without a word."""

import asyncio
import os
import re
import signal
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


class Process:
    """One data folder and database, on which servers come and go. The ports of the first one stay."""

    def __init__(self, folder: Path, database_url: str) -> None:
        self._where = ["--data-dir", str(folder), "--database-url", database_url]
        self._log = folder / "serve.log"
        self._ports = ["--http-port", "0", "--ocpp-port", "0"]
        self._process: subprocess.Popen[str] | None = None
        self.http_url = ""
        self.ocpp_url = ""

    async def key(self) -> str:
        """A manager's key, made by the command."""
        command = [sys.executable, "-m", "csms", "key", "create", "--name", "killer", *self._where]
        done = await asyncio.to_thread(
            subprocess.run, command, cwd=ROOT, capture_output=True, text=True, check=True
        )
        return done.stdout.strip()

    async def start(self) -> None:
        """Return when it says that it serves."""
        command = [sys.executable, "-m", "csms", "serve", "--host", "127.0.0.1", *self._where, *self._ports]
        with self._log.open("a") as log:
            process = self._process = subprocess.Popen(  # noqa: ASYNC220 (it returns at once)
                command,
                cwd=ROOT,
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
                env={**os.environ, "PYTHONUNBUFFERED": "1"},
            )
        assert process.stdout is not None
        lines = [await asyncio.to_thread(process.stdout.readline) for _ in range(2)]
        urls = [found.group() for line in lines if (found := re.search(r"\w+://[^\s{]+", line))]
        assert len(urls) == 2, f"it does not serve: {self._log.read_text()}"
        self.http_url, self.ocpp_url = urls
        http_port, ocpp_port = (re.findall(r":(\d+)", url)[0] for url in urls)
        self._ports = ["--http-port", http_port, "--ocpp-port", ocpp_port]

    def kill(self) -> None:
        """SIGKILL: nothing is written any more, nobody is told."""
        self._end(signal.SIGKILL)

    def stop(self) -> None:
        """SIGTERM: everything is written, everybody is told."""
        if self._process is not None:
            self._end(signal.SIGTERM)

    def _end(self, number: int) -> None:
        process, self._process = self._process, None
        assert process is not None
        assert process.poll() is None, f"it has ended by itself: {self._log.read_text()}"
        process.send_signal(number)
        process.wait(timeout=20)
        if process.stdout is not None:
            process.stdout.close()

    def complaints(self) -> list[str]:
        """What the servers logged as errors."""
        text = self._log.read_text()
        return [line for line in text.splitlines() if " ERROR " in line or line.startswith("Traceback")]
