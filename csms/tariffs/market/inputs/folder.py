"""A watched file or folder below the data folder's `prices`: every file that is new or has changed.

Names that begin with a dot or end with .tmp or .part are passed over: they are still being written.
"""

import asyncio
from collections.abc import AsyncIterator, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import ClassVar, Self

from csms.errors import InvalidInput
from csms.tariffs.document import Fields, text
from csms.tariffs.market.document import LARGEST_BYTES
from csms.tariffs.market.inputs.source import Around, Found, Source, SourceFault

UNFINISHED = (".tmp", ".part")
MOST_FILES = 5000


@dataclass(frozen=True, slots=True)
class FolderSource(Source):
    """`path` is relative to the folder of prices."""

    kind: ClassVar[str] = "folder"
    path: PurePosixPath

    @property
    def every_s(self) -> float:
        return 60

    @classmethod
    def parse(cls, settings: Mapping[str, object], path: str) -> Self:
        fields = Fields.of(settings, path, ("kind", "path"))
        given = fields.take("path", text(200))
        found = PurePosixPath(given)
        if found.is_absolute() or ".." in found.parts or "\\" in given or not given.isprintable():
            raise InvalidInput(
                fields.at("path"), "must be a file or folder within the data folder's prices, without .."
            )
        return cls(found)

    async def fetch(self, around: Around) -> AsyncIterator[Found]:
        names = await asyncio.to_thread(self._changed, around)
        for name, path, mark in names:
            raw = await asyncio.to_thread(_read, path)
            yield Found(name, raw, mark=mark)

    def _changed(self, around: Around) -> list[tuple[str, Path, object]]:
        base = around.prices.resolve()
        root = (base / self.path).resolve()
        if not root.is_relative_to(base):
            raise SourceFault(f"{self.path} leads out of the folder of prices")
        try:
            paths = sorted(root.iterdir()) if root.is_dir() else [root]
            found: list[tuple[str, Path, object]] = []
            for path in paths[-MOST_FILES:]:
                if path.name.startswith(".") or path.name.endswith(UNFINISHED) or path.is_dir():
                    continue
                state = path.stat()
                mark = (state.st_mtime_ns, state.st_size)
                if around.seen.get(path.name) != mark:
                    found.append((path.name, path, mark))
        except OSError as error:
            raise SourceFault(f"cannot read {self.path} in the folder of prices: {error.strerror}") from None
        return found


def _read(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(LARGEST_BYTES + 1)
    except OSError as error:
        raise SourceFault(f"cannot read {path.name}: {error.strerror}") from None
