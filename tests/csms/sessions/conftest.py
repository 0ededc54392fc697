"""A station in Weavers' Yard that talks to us."""

import pytest

from csms.clock import ManualClock
from csms.store.database import Database
from tests.csms.conversation import Conversation
from tests.csms.yard import build_yard


@pytest.fixture
async def talk(database: Database, clock: ManualClock) -> Conversation:
    await build_yard(database)
    conversation = Conversation(database, clock)
    await conversation.let_in()
    return conversation
