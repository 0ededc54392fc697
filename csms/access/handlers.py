"""Answers what stations ask about tokens."""

from datetime import datetime

from csms.access.verdict.service import Judge
from csms.dispatch import Dispatcher
from csms.stations.model import TokenAnswer
from csms.stations.questions import MayCharge


class AccessHandlers:
    """Owner of MayCharge.

    A token that charges elsewhere is not refused here: it may have been presented to stop, and
    the standard leaves that refusal to the transaction's start (OCPP 1.6 section 7.2,
    ConcurrentTx).
    """

    def __init__(self, judge: Judge) -> None:
        self._judge = judge

    def register(self, dispatcher: Dispatcher) -> None:
        dispatcher.handle(MayCharge, self.may_charge)

    async def may_charge(self, station_id: str, question: MayCharge, now: datetime) -> TokenAnswer:
        """The verdict, committed: an unknown card is on record when the station hears of it."""
        decision = await self._judge.answer(station_id, question.token, question.evse, now)
        return decision.answer
