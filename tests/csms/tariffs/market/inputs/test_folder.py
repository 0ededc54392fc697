"""A watched folder hands over what is new, and stays within its bounds."""

import os
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from csms.errors import InvalidInput
from csms.tariffs.market.inputs.folder import FolderSource
from csms.tariffs.market.inputs.source import Around, SourceFault


@pytest.fixture
def around(tmp_path: Path) -> Around:
    (tmp_path / "prices" / "mill").mkdir(parents=True)
    now = datetime(2026, 1, 14, 12, tzinfo=UTC)
    return Around(prices=tmp_path / "prices", secrets=tmp_path / "secrets", now=now)


@pytest.fixture
def fetch(around: Around) -> Callable[..., object]:
    async def fetched(path: str = "mill", *, taken: bool = True) -> list[tuple[str, bytes]]:
        found = []
        async for each in FolderSource.parse({"kind": "folder", "path": path}, "source").fetch(around):
            found.append((each.name, each.raw))
            if taken:
                around.seen[each.name] = each.mark
        return found

    return fetched


async def test_new_and_changed_files_once_each(around: Around, fetch: Callable[..., object]) -> None:
    folder = around.prices / "mill"
    for name in ("b.xml", "a.csv", ".hidden", "c.xml.part", "d.tmp"):
        (folder / name).write_bytes(name.encode())
    (folder / "below").mkdir()
    assert await fetch() == [("a.csv", b"a.csv"), ("b.xml", b"b.xml")]  # type: ignore[misc]
    assert await fetch() == []  # type: ignore[misc]
    (folder / "a.csv").write_bytes(b"longer now")
    assert await fetch() == [("a.csv", b"longer now")]  # type: ignore[misc]


async def test_what_was_not_taken_comes_again(around: Around, fetch: Callable[..., object]) -> None:
    (around.prices / "mill" / "a.csv").write_bytes(b"x")
    assert await fetch(taken=False) == await fetch() == [("a.csv", b"x")]  # type: ignore[misc]


async def test_one_file(around: Around, fetch: Callable[..., object]) -> None:
    (around.prices / "today.csv").write_bytes(b"x")
    assert await fetch("today.csv") == [("today.csv", b"x")]  # type: ignore[misc]
    with pytest.raises(SourceFault, match="cannot read none in the folder of prices: No such file"):
        await fetch("none")  # type: ignore[misc]


async def test_a_link_leads_nowhere(around: Around, tmp_path: Path, fetch: Callable[..., object]) -> None:
    (tmp_path / "secrets").mkdir()
    (around.prices / "out").symlink_to(tmp_path / "secrets")
    with pytest.raises(SourceFault, match="out leads out of the folder of prices"):
        await fetch("out")  # type: ignore[misc]


@pytest.mark.skipif(os.name == "nt", reason="paths of Windows")
@pytest.mark.parametrize("path", ["/etc", "../secrets", "a/../../b", "a\\b", "a\nb"])
def test_paths_that_are_refused(path: str) -> None:
    with pytest.raises(InvalidInput, match=r"source\.path: must be a file or folder within"):
        FolderSource.parse({"kind": "folder", "path": path}, "source")
