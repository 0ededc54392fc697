"""Files that come in parts."""

import asyncio
import hashlib
from collections.abc import AsyncIterator
from pathlib import Path

import pytest

from csms.errors import Conflict, InvalidInput
from csms.firmware.file_service import Files, new_token
from tests.csms.firmware.conftest import parts


def left(folder: Path) -> list[Path]:
    return list(folder.iterdir())


async def test_a_file_comes_whole(tmp_path: Path) -> None:
    files = Files(tmp_path / "in", 1000)
    kept = await files.take("a", parts(b"x" * 1000))
    assert (kept.size_bytes, kept.sha256) == (1000, hashlib.sha256(b"x" * 1000).hexdigest())
    assert files.path("a").read_bytes() == b"x" * 1000
    await files.remove("a")
    assert left(tmp_path / "in") == []


@pytest.mark.parametrize(("data", "says"), [(b"x" * 1001, "larger than 1000"), (b"", "empty")])
async def test_what_is_not_taken_leaves_nothing(tmp_path: Path, data: bytes, says: str) -> None:
    files = Files(tmp_path, 1000)
    with pytest.raises(InvalidInput, match=says):
        await files.take("a", parts(data))
    assert left(tmp_path) == []


async def test_one_at_a_time_under_a_name_and_a_broken_one_is_gone(tmp_path: Path) -> None:
    files = Files(tmp_path, 1000)
    go_on = asyncio.Event()

    async def breaks() -> AsyncIterator[bytes]:
        yield b"half"
        await go_on.wait()
        raise ConnectionError("the line broke")

    first = asyncio.ensure_future(files.take("a", breaks()))
    await asyncio.sleep(0)
    with pytest.raises(Conflict):
        await files.take("a", parts(b"other"))
    go_on.set()
    with pytest.raises(ConnectionError):
        await first
    assert left(tmp_path) == []
    assert (await files.take("a", parts(b"whole"))).size_bytes == 5


def test_tokens_cannot_be_guessed() -> None:
    tokens = {new_token() for _ in range(100)}
    assert len(tokens) == 100
    assert all(len(token) == 32 for token in tokens)
