"""The edge to the process that plans: started when it is first needed, killed when it takes too long.

The loop only waits. A worker that dies or hangs costs one plan; the next one gets a new process.
"""

import asyncio
import logging
import os
import pickle
import sys

from csms.errors import PhaseyardError
from csms.power.planner.problem import Problem, Solution
from csms.power.planner.worker import LENGTH, framed

log = logging.getLogger(__name__)

GRACE_S = 20.0
"""More than the problem's own time limit: the first start imports a solver on a busy machine."""
END_S = 5.0


class NoPlan(PhaseyardError):
    """There is no plan; the text says why."""

    code = "no-plan"


class Worker:
    """One process, one problem at a time."""

    def __init__(self, *, grace_s: float = GRACE_S) -> None:
        self._grace_s = grace_s
        self._process: asyncio.subprocess.Process | None = None
        self._lock = asyncio.Lock()

    @property
    def pid(self) -> int | None:
        """The process that runs, if one does."""
        return None if self._process is None else self._process.pid

    async def solve(self, problem: Problem) -> Solution:
        """Raises NoPlan."""
        async with self._lock:
            try:
                async with asyncio.timeout(problem.time_limit_s + self._grace_s):
                    found = await self._ask(problem)
            except TimeoutError:
                await self._kill()
                raise NoPlan("the planner took too long and was stopped") from None
            except (OSError, EOFError, asyncio.IncompleteReadError, pickle.UnpicklingError) as error:
                await self._kill()
                log.warning("the planner's process is gone: %s", error)
                raise NoPlan("the planner's process died") from error
            except asyncio.CancelledError:
                await self._kill()
                raise
        if isinstance(found, Solution):
            return found
        raise NoPlan(str(found))

    async def _ask(self, problem: Problem) -> object:
        process = self._process
        if process is None or process.returncode is not None:
            # The same modules as here, wherever they are; none of the program's own start.
            path = os.pathsep.join(p or os.getcwd() for p in sys.path)
            process = self._process = await asyncio.create_subprocess_exec(
                sys.executable,
                "-m",
                "csms.power.planner.worker",
                stdin=asyncio.subprocess.PIPE,
                stdout=asyncio.subprocess.PIPE,
                env={**os.environ, "PYTHONPATH": path},
                start_new_session=True,  # an interrupt from the keyboard is ours to handle
            )
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write(framed(problem))
        await process.stdin.drain()
        length = int.from_bytes(await process.stdout.readexactly(LENGTH))
        return pickle.loads(await process.stdout.readexactly(length))  # noqa: S301 - our own child's

    async def close(self) -> None:
        """End the process."""
        async with self._lock:
            await self._kill()

    async def _kill(self) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        if process.stdin is not None:
            process.stdin.close()
        if process.returncode is None:
            process.kill()
        async with asyncio.timeout(END_S):
            await process.wait()
