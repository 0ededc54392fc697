"""Passwords at the door: the slow comparison once, then remembered.

Comparing with the stored hash is slow on purpose (some 10 ms). After an outage every station
comes back at once, so who was right is remembered in memory, by a keyed digest and not by the
password; a changed key has another stored hash and is not found. Guesses run in threads, a
few at a time, so that they slow down each other and nobody else.
"""

import asyncio
import hashlib
import hmac
from collections import OrderedDict

from csms.stations.credentials import StoredKey, key_matches

REMEMBERED = 20_000
AT_ONCE = 2


class KeyCheck:
    """`secret` is random and lives as long as the process."""

    def __init__(self, secret: bytes) -> None:
        self._secret = secret
        self._right: OrderedDict[bytes, None] = OrderedDict()
        self._room = asyncio.Semaphore(AT_ONCE)

    async def is_right(self, stored: StoredKey, presented: bytes) -> bool:
        """Whether the password `presented` is the station's key."""
        digest = hmac.digest(self._secret, stored.hash + hashlib.sha256(presented).digest(), hashlib.sha256)
        if digest in self._right:
            self._right.move_to_end(digest)
            return True
        async with self._room:
            right = await asyncio.to_thread(key_matches, stored, presented)
        if right:
            self._right[digest] = None
            if len(self._right) > REMEMBERED:
                self._right.popitem(last=False)
        return right
