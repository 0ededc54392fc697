"""Files on disk: written beside and moved, counted while they come, never larger than allowed."""

import asyncio
import hashlib
import os
import secrets
from collections.abc import AsyncIterable
from dataclasses import dataclass
from pathlib import Path

from csms.errors import Conflict, InvalidInput

TOKEN_BYTES = 24


def new_token() -> str:
    """192 random bits for an address that cannot be guessed."""
    return secrets.token_urlsafe(TOKEN_BYTES)


@dataclass(frozen=True, slots=True)
class Kept:
    """A file that came whole."""

    size_bytes: int
    sha256: str


class Files:
    """A folder of files by name; `largest_bytes` of each."""

    def __init__(self, folder: Path, largest_bytes: int) -> None:
        self._folder = folder
        self.largest_bytes = largest_bytes
        self._coming: set[str] = set()

    def path(self, name: str) -> Path:
        return self._folder / name

    async def take(self, name: str, parts: AsyncIterable[bytes]) -> Kept:
        """Write what comes. Raises InvalidInput (`file`) when it is empty or too large, Conflict while
        another is coming under that name; then nothing is kept."""
        if name in self._coming:
            raise Conflict("this file is being sent already")
        self._coming.add(name)
        beside = self._folder / f"{name}.part"
        digest, size = hashlib.sha256(), 0
        try:
            await asyncio.to_thread(self._folder.mkdir, parents=True, exist_ok=True)
            with await asyncio.to_thread(beside.open, "wb") as file:
                async for part in parts:
                    size += len(part)
                    if size > self.largest_bytes:
                        raise InvalidInput("file", f"is larger than {self.largest_bytes} bytes")
                    digest.update(part)
                    await asyncio.to_thread(file.write, part)
                await asyncio.to_thread(_flush, file.fileno())
            if not size:
                raise InvalidInput("file", "is empty")
            await asyncio.to_thread(beside.replace, self.path(name))
        finally:
            self._coming.discard(name)
            await asyncio.to_thread(beside.unlink, True)
        return Kept(size, digest.hexdigest())

    async def remove(self, name: str) -> None:
        await asyncio.to_thread(self.path(name).unlink, True)


def _flush(descriptor: int) -> None:
    os.fsync(descriptor)
