"""The way of an offer to its station and of the answer back: delay, loss, a link that is gone."""

import asyncio
from collections.abc import Callable
from random import Random

from csms.errors import StationOffline, StationSilent
from csms.power.steering.profile import Offer
from csms.power.steering.promises import Outcome
from tools.simulation.description import Messages
from tools.simulation.places import Place
from tools.simulation.timeline import Timeline


class Post:
    """`settle` is called when a station has taken or refused an offer, `answered` when we hear of it."""

    def __init__(
        self,
        messages: Messages,
        timeline: Timeline,
        random: Random,
        *,
        settle: Callable[[Place], None],
        answered: Callable[[], None],
    ) -> None:
        self._messages = messages
        self._timeline = timeline
        self._random = random
        self._settle = settle
        self._answered = answered

    def delay_s(self) -> float:
        """How long one message is on its way."""
        return self._random.uniform(*self._messages.delay_s)

    def send(self, offer: Offer, place: Place) -> "asyncio.Future[Outcome]":
        """An offer on its way; the future is its outcome, or StationOffline, StationSilent."""
        answer: asyncio.Future[Outcome] = asyncio.get_running_loop().create_future()
        if not place.online:
            answer.set_exception(StationOffline(offer.evse.station_id))
            self._timeline.after(0.0, self._answered)
            return answer
        lost = self._random.random() < self._messages.lost
        if not lost or self._random.random() < 0.5:
            self._timeline.after(self.delay_s(), lambda: self._arrive(offer, place, answer, lost))
        self._timeline.after(self._messages.timeout_s, lambda: self._give_up(offer, answer))
        return answer

    def _arrive(self, offer: Offer, place: Place, answer: "asyncio.Future[Outcome]", lost: bool) -> None:
        if not place.online:
            return
        taken = place.take(offer)
        self._settle(place)
        if not lost:
            outcome = Outcome.ACCEPTED if taken else Outcome.REFUSED
            self._timeline.after(self.delay_s(), lambda: self._hear(answer, outcome))

    def _hear(self, answer: "asyncio.Future[Outcome]", outcome: Outcome) -> None:
        if not answer.done():  # else the server was killed while it waited, or has given up
            answer.set_result(outcome)
            self._answered()

    def _give_up(self, offer: Offer, answer: "asyncio.Future[Outcome]") -> None:
        if not answer.done():
            answer.set_exception(StationSilent(offer.evse.station_id))
            self._answered()
