"""Reads a frame of the quarantine once more, after the program, a quirk or the frame was mended.

It is taken as a message that the station had stored: heard when it came then, answered to nobody.
Only what tells of something is taken again; a question of long ago wants no answer.
"""

import logging
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from csms.clock import Clock
from csms.errors import Conflict, InvalidInput, OurFault
from csms.gateway.ports import Owners, Quirks
from csms.ocpp.adapter import Unreadable, adapter_for
from csms.ocpp.frames import Limits
from csms.ocpp.quirks import put_right
from csms.ocpp.rpc import Rpc
from csms.ocpp.rpc_items import InboundCall, InboundSend, Unusable
from csms.ocpp.version import Version
from csms.stations.events import EVENTS
from csms.stations.quarantine.service import QuarantineService
from csms.stations.questions import TransactionReported
from csms.stations.service import StationsService

log = logging.getLogger(__name__)

RETOLD: tuple[type[Any], ...] = (TransactionReported, *EVENTS)


class Outcome(StrEnum):
    """`NOT_KEPT`: it could be read, and whoever it is for could not keep it."""

    TAKEN = "taken"
    UNREADABLE = "unreadable"
    NOT_KEPT = "not_kept"


@dataclass(frozen=True, slots=True)
class Replayed:
    """`detail`: why not, or what was odd about it; `answer`: what the station would have been told."""

    outcome: Outcome
    action: str = ""
    detail: str = ""
    answer: dict[str, Any] | None = None


class Replay:
    """Way in for frames that are not from a socket."""

    def __init__(
        self,
        quarantine: QuarantineService,
        stations: StationsService,
        owners: Owners,
        quirks: Quirks,
        clock: Clock,
    ) -> None:
        self._quarantine = quarantine
        self._stations = stations
        self._owners = owners
        self._quirks = quirks
        self._clock = clock

    async def replay(self, station_id: str, frame_id: int, mended: str | None = None) -> Replayed:
        """Read the frame once more, or `mended` in its place; what came of it is kept with the frame.

        Raises NotFound, InvalidInput, and Conflict for a frame that was taken already.
        """
        station = await self._stations.get(station_id)
        kept = await self._quarantine.get(station_id, frame_id)
        if kept.outcome == Outcome.TAKEN:
            raise Conflict(f"frame {frame_id} was taken at {kept.replayed_at:%Y-%m-%d %H:%M:%S}Z")
        try:
            version = Version(station.protocol)
        except ValueError:
            raise Conflict(f"{station_id} has never connected: its version of OCPP is not known") from None
        text = kept.frame.decode("utf-8", "replace") if mended is None else mended
        replayed = await self._read(station_id, version, text, kept.at)
        told = (
            replayed.outcome
            if replayed.outcome is Outcome.TAKEN
            else f"{replayed.outcome}: {replayed.detail}"
        )
        await self._quarantine.replayed(frame_id, told, self._clock.now())
        return replayed

    async def _read(self, station_id: str, version: Version, text: str, at: datetime) -> Replayed:
        adapter = adapter_for(version)
        engine = Rpc(version, adapter.inbound_actions, lambda: "", Limits())
        items = engine.receive(text, 0.0).items
        item = items[0] if items else None
        if isinstance(item, Unusable):
            return Replayed(Outcome.UNREADABLE, detail=item.problem)
        if not isinstance(item, InboundCall | InboundSend):
            return Replayed(Outcome.UNREADABLE, detail="it is no call of a station")
        if adapter.inbound_actions[item.action] not in RETOLD:
            raise InvalidInput("frame", f"{item.action} asks for an answer, which nobody waits for any more")
        payload, deviations = item.payload, item.deviations
        if (quirk := await self._quirks.of(station_id)) is not None:
            payload, done = put_right(payload, quirk)
            deviations = (*deviations, *done)
        try:
            question = adapter.inbound(item.action, payload, at, deviations)
        except Unreadable as error:
            return Replayed(Outcome.UNREADABLE, item.action, str(error))
        try:
            answer = await self._owners.ask(station_id, question, at)
            written = adapter.answer(question, answer, self._clock.now())
        except OurFault:
            raise
        except Exception as error:
            log.exception("a frame of %s could not be kept", station_id)
            return Replayed(Outcome.NOT_KEPT, item.action, f"{type(error).__name__}; see the log")
        return Replayed(Outcome.TAKEN, item.action, "; ".join(deviations), written)
