"""Messages about transactions wait here until they are answered: in order, through every outage.

The retry rule is OCPP 1.6 section 3.7.1 (2.0.1 names the same two variables MessageAttempts and
MessageAttemptInterval): after a failure, which is an error answer or none in time, wait the interval times
the number of earlier sends; give up after so many attempts. A socket that is down is no attempt.
"""

import asyncio
import logging
from collections import deque
from collections.abc import Awaitable, Callable
from dataclasses import dataclass

from tools.simulator.clock import Clock
from tools.simulator.rpc import CallFailed, Offline, Payload, TimedOut

log = logging.getLogger(__name__)


@dataclass(slots=True, kw_only=True)
class Letter:
    """`build` is asked for the payload at each send, so that it can name what an earlier answer gave."""

    action: str
    build: Callable[[], Payload]
    answered: Callable[[Payload], None] | None = None
    dropped: Callable[[], None] | None = None
    sends: int = 0


class Outbox:
    """First in, first out. `attempts` and `interval_s` are asked each time, for they can be changed
    meanwhile."""

    def __init__(self, clock: Clock, *, attempts: Callable[[], int], interval_s: Callable[[], float]) -> None:
        self._clock = clock
        self._attempts = attempts
        self._interval_s = interval_s
        self._letters: deque[Letter] = deque()
        self._filled = asyncio.Event()
        self._empty = asyncio.Event()
        self._empty.set()
        self.dropped = 0

    def __len__(self) -> int:
        return len(self._letters)

    def put(self, letter: Letter) -> None:
        self._letters.append(letter)
        self._filled.set()
        self._empty.clear()

    async def emptied(self) -> None:
        """Return when everything has been answered or given up."""
        await self._empty.wait()

    async def pump(self, call: Callable[[str, Payload], Awaitable[Payload]], ready: asyncio.Event) -> None:
        """Deliver for ever, whenever `ready` is set."""
        while True:
            await self._filled.wait()
            await ready.wait()
            letter = self._letters[0]
            try:
                answer = await call(letter.action, letter.build())
            except Offline:
                await asyncio.sleep(0.05)  # the link notices by itself and clears `ready`
                continue
            except (CallFailed, TimedOut) as fault:
                letter.sends += 1
                if letter.sends < self._attempts():
                    log.info("%s; send %d, trying again", fault, letter.sends)
                    await self._clock.sleep(self._interval_s() * letter.sends)
                    continue
                log.warning("%s; given up after %d sends", fault, letter.sends)
                self.dropped += 1
                self._remove_first()
                if letter.dropped is not None:
                    letter.dropped()
                continue
            self._remove_first()
            if letter.answered is not None:
                letter.answered(answer)

    def _remove_first(self) -> None:
        self._letters.popleft()
        if not self._letters:
            self._filled.clear()
            self._empty.set()
