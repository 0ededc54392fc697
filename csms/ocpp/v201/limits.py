"""Limits of others and the car's own schedule in OCPP 2.x (K11 to K14, K17)."""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.fields import Fields
from csms.ocpp.profile import UNITS, read_periods
from csms.ocpp.translator import Asked, Heard, Ordered, Payload, Spelled, Writer
from csms.stations.commands import Command
from csms.stations.events import Event
from csms.stations.model import RateUnit
from csms.stations.questions import Question
from csms.stations.words.limits import EvScheduleReported, LimitCleared, LimitReported, Schedule


def read_limit(said: Fields, now: datetime) -> LimitReported:
    """Raises Unreadable when nothing says who limits."""
    limit = said.part("chargingLimit")
    source = limit.text("chargingLimitSource")
    if not source:
        raise limit.false("chargingLimitSource", "is missing: nobody knows whose limit this is")
    return LimitReported(
        source=source,
        evse=said.whole("evseId"),
        grid_critical=limit.flag("isGridCritical"),
        local_generation=limit.flag("isLocalGeneration"),
        schedules=tuple(read_schedule(each) for each in said.parts("chargingSchedule")),
    )


def read_schedule(said: Fields) -> Schedule:
    """A schedule with the periods that can be read."""
    return Schedule(
        id=said.whole("id") or 0,
        unit=said.word("chargingRateUnit", UNITS) or RateUnit.AMPERE,
        periods=read_periods(said),
        start_at=said.time("startSchedule"),
        duration_s=said.whole("duration"),
        lowest=said.number("minChargingRate"),
    )


def read_ev_schedule(said: Fields, now: datetime) -> EvScheduleReported:
    """Raises Unreadable without an EVSE or a schedule."""
    evse, schedule = said.whole("evseId"), said.part("chargingSchedule")
    if evse is None:
        raise said.false("evseId", "is missing: nobody knows whose schedule this is")
    if not schedule:
        raise said.false("chargingSchedule", "is missing: there is nothing to keep")
    return EvScheduleReported(
        evse=evse,
        at=said.time("timeBase") or now,
        schedule=read_schedule(schedule),
        selected_id=said.whole("selectedChargingScheduleId"),
    )


def write_received(event: EvScheduleReported, answer: object, now: datetime) -> Payload:
    """That it was received; it does not mean that the schedule is agreed to (K17, from memory)."""
    return {"status": "Accepted"}


INBOUND: Mapping[str, Heard | Spelled] = {
    "NotifyChargingLimit": Heard(LimitReported, read_limit),
    "ClearedChargingLimit": Spelled(LimitCleared, {"source": "chargingLimitSource"}),
    "NotifyEVChargingSchedule": Heard(EvScheduleReported, read_ev_schedule),
}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {EvScheduleReported: write_received}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {}
