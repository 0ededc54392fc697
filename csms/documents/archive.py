"""Many documents as one ZIP: the same documents give the same file."""

import zipfile
from collections.abc import Iterable
from typing import BinaryIO

from csms.documents.document import Document

LONG_AGO = (1980, 1, 1, 0, 0, 0)
"""The earliest time that a ZIP can tell: its entries say nothing of when they were packed."""
READABLE = 0o644 << 16


class Archive:
    """Writes into `out`. Documents are added one by one, so that only one of them is in memory."""

    def __init__(self, out: BinaryIO) -> None:
        self._zip = zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED)
        self._names: set[str] = set()

    def add(self, name: str, content: bytes) -> None:
        """A file; a name that is taken gets a number."""
        stem, dot, ending = name.rpartition(".")
        number = 1
        while name in self._names:
            number += 1
            name = f"{stem} ({number}){dot}{ending}"
        self._names.add(name)
        entry = zipfile.ZipInfo(name, LONG_AGO)
        entry.compress_type = zipfile.ZIP_DEFLATED
        entry.external_attr = READABLE
        self._zip.writestr(entry, content)

    def close(self) -> None:
        self._zip.close()


def missing_text(documents: Iterable[Document]) -> str:
    """What is not in the archive, and why; "" when all is."""
    return "".join(f"{one.number} {one.member_name}: {one.problem}\r\n" for one in documents if one.problem)
