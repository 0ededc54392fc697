from collections.abc import AsyncIterator

import pytest

from csms.clock import ManualClock
from tests.csms.gateway.stage import Stage


@pytest.fixture
async def stage(clock: ManualClock) -> AsyncIterator[Stage]:
    """A gateway that listens; the clock stands still."""
    stage = Stage(clock)
    await stage.gateway.open()
    yield stage
    await stage.gateway.close()
