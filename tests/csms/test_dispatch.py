"""One owner a kind; followers after the owner."""

from dataclasses import dataclass
from datetime import UTC, datetime

import pytest

from csms.dispatch import Dispatcher
from csms.errors import OurFault

NOW = datetime(2026, 11, 2, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Ping:
    text: str


async def owner(station_id: str, question: Ping, now: datetime) -> str:
    return f"{station_id} said {question.text}"


async def test_the_owner_answers_and_followers_come_after() -> None:
    dispatcher = Dispatcher()
    seen: list[str] = []

    async def follower(station_id: str, question: Ping, now: datetime) -> None:
        seen.append(question.text)

    dispatcher.handle(Ping, owner)
    dispatcher.listen(Ping, follower)
    assert await dispatcher.ask("BAY-01", Ping("hello"), NOW) == "BAY-01 said hello"
    assert seen == ["hello"]


async def test_two_owners_or_none_is_our_fault() -> None:
    dispatcher = Dispatcher()
    assert dispatcher.unowned([Ping]) == ["Ping"]
    with pytest.raises(OurFault, match="nobody owns"):
        await dispatcher.ask("BAY-01", Ping("hello"), NOW)
    dispatcher.handle(Ping, owner)
    assert dispatcher.unowned([Ping]) == []
    with pytest.raises(OurFault, match="two owners"):
        dispatcher.handle(Ping, owner)


async def test_a_failing_follower_does_not_fail_the_answer(caplog: pytest.LogCaptureFixture) -> None:
    dispatcher = Dispatcher()

    async def fails(station_id: str, question: Ping, now: datetime) -> None:
        raise ValueError("not today")

    dispatcher.handle(Ping, owner)
    dispatcher.listen(Ping, fails)
    assert await dispatcher.ask("BAY-01", Ping("hello"), NOW) == "BAY-01 said hello"
    assert "not today" in caplog.text
