"""A short run; the long one is a command, with its figures in the folder's README."""

import logging
from pathlib import Path

import pytest

from tools.fuzz.run import fuzz


async def test_spoilt_messages_kill_no_link_and_lose_no_transaction(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.CRITICAL)
    result = await fuzz(tmp_path, frames=1_200, seed=20261112, stations=6)
    assert result.faults == []
    assert result.frames >= 1_200
    assert result.transactions > 15
