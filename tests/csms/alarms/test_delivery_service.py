"""Messages that are sent, fail, and are tried again, on both databases."""

import asyncio
from collections.abc import AsyncIterator

import pytest

from csms.alarms.channels import Letter
from csms.alarms.deliveries import DeliveryState
from csms.alarms.delivery_service import Deliveries
from csms.alarms.route_service import AlarmRoutes
from csms.alarms.routes import ChannelKind
from csms.alarms.service import AlarmsService
from csms.alarms.signs import Begun
from csms.clock import ManualClock
from csms.errors import MessageFault
from csms.store.database import Database
from csms.tasks import Tasks
from tests.csms.yard import BAY_1, SITE


class Pigeon:
    """A channel whose faults a test sets."""

    def __init__(self) -> None:
        self.letters: list[Letter] = []
        self.fault: Exception | None = None
        self.flown = asyncio.Event()

    async def send(self, letter: Letter) -> None:
        if self.fault is not None:
            raise self.fault
        self.letters.append(letter)
        self.flown.set()


@pytest.fixture
def pigeon() -> Pigeon:
    return Pigeon()


@pytest.fixture
async def tasks() -> AsyncIterator[Tasks]:
    made = Tasks()
    yield made
    await made.close()


@pytest.fixture
async def deliveries(
    yard: Database,
    clock: ManualClock,
    pigeon: Pigeon,
    tasks: Tasks,
    alarms: AlarmsService,
    routes: AlarmRoutes,
) -> Deliveries:
    await routes.create(channel=ChannelKind.MAIL, address="caretaker@weavers.example", site_id=SITE)
    await alarms.apply([Begun(kind="reader", thing=f"{BAY_1}/2", station_id=BAY_1, evse=2)], site_id=SITE)
    return Deliveries(yard, clock, {ChannelKind.MAIL: pigeon}, tasks)


async def test_a_message_is_sent_once(deliveries: Deliveries, pigeon: Pigeon, routes: AlarmRoutes) -> None:
    assert await deliveries.send_due() == 1
    assert await deliveries.send_due() == 0
    (letter,) = pigeon.letters
    assert letter.address == "caretaker@weavers.example"
    assert letter.subject == f"Warning: {BAY_1} / 2: The card reader fails (Weavers' Yard)"
    (sent,) = (await routes.deliveries()).items
    assert (sent.state, sent.attempts) == (DeliveryState.SENT, 1)


@pytest.mark.parametrize(
    ("fault", "error"),
    [
        (MessageFault("the mail server is away"), "the mail server is away"),
        (KeyError("x"), "our fault: KeyError"),
    ],
)
async def test_one_that_fails_is_tried_later_under_the_same_id(
    deliveries: Deliveries,
    pigeon: Pigeon,
    routes: AlarmRoutes,
    clock: ManualClock,
    fault: Exception,
    error: str,
) -> None:
    pigeon.fault = fault
    await deliveries.send_due()
    (waiting,) = (await routes.deliveries()).items
    assert (waiting.state, waiting.attempts, waiting.error) == (DeliveryState.WAITING, 1, error)
    assert await deliveries.send_due() == 0, "not before its time"
    pigeon.fault = None
    clock.advance(61)
    assert await deliveries.send_due() == 1
    assert pigeon.letters[0].id == f"alarm-{waiting.alarm_id}-{waiting.id}"


async def test_it_is_given_up_and_shown_as_such(
    deliveries: Deliveries, pigeon: Pigeon, routes: AlarmRoutes, clock: ManualClock
) -> None:
    pigeon.fault = MessageFault("no such mailbox")
    for _ in range(8):
        await deliveries.send_due()
        clock.advance(13 * 3600)
    (given_up,) = (await routes.deliveries()).items
    assert (given_up.state, given_up.error) == (DeliveryState.GIVEN_UP, "no such mailbox")
    assert await deliveries.send_due() == 0


async def test_the_loop_sends_what_it_is_woken_for(
    deliveries: Deliveries, pigeon: Pigeon, alarms: AlarmsService
) -> None:
    deliveries.start(alarms)
    deliveries.wake()
    async with asyncio.timeout(30):
        await pigeon.flown.wait()
    assert len(pigeon.letters) == 1
