"""Schedules that change as they run, priority, ways of transfer, grid signals (K21, K22, K28, K29, Q)."""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.adapter import Unsupported
from csms.ocpp.translator import (
    Asked,
    Heard,
    Ordered,
    Payload,
    Spelled,
    Writer,
    checked,
    expect,
    plain_result,
)
from csms.ocpp.version import Version
from csms.stations.commands import Command
from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.words.limits import (
    AllowEnergyTransfer,
    PriorityReported,
    ScheduleUpdate,
    ScheduleUpdateAnswer,
    ScheduleUpdateAsked,
    SendBalancingSignal,
    UpdateSchedule,
    UsePriority,
)
from csms.units import floor_tenth

VALUES: Mapping[str, str] = {
    "limit": "limit",
    "limit_l2": "limit_L2",
    "limit_l3": "limit_L3",
    "discharge_limit": "dischargeLimit",
    "discharge_limit_l2": "dischargeLimit_L2",
    "discharge_limit_l3": "dischargeLimit_L3",
    "setpoint": "setpoint",
    "setpoint_l2": "setpoint_L2",
    "setpoint_l3": "setpoint_L3",
    "setpoint_reactive": "setpointReactive",
    "setpoint_reactive_l2": "setpointReactive_L2",
    "setpoint_reactive_l3": "setpointReactive_L3",
}
"""Our name and the wire's of each value of a schedule's update."""


def write_update(update: ScheduleUpdate) -> Payload:
    """Limits are rounded towards 0, as those of profiles are; set points to a tenth."""
    wire: Payload = {}
    for ours, name in VALUES.items():
        value: float | None = getattr(update, ours)
        if value is None:
            continue
        if "setpoint" in ours:
            wire[name] = round(value, 1)
        else:
            wire[name] = floor_tenth(value) if value >= 0 else -floor_tenth(-value)
    return wire


def write_dynamic(command: UpdateSchedule) -> tuple[str, Payload] | Unsupported:
    wire = {"chargingProfileId": command.profile_id, "scheduleUpdate": write_update(command.update)}
    if not wire["scheduleUpdate"]:
        return Unsupported("update: there is nothing to change; give a value")
    return checked(Version.OCPP21, "UpdateDynamicSchedule", wire)


def write_pulled(question: ScheduleUpdateAsked, answer: object, now: datetime) -> Payload:
    """PullDynamicScheduleUpdateResponse."""
    said: ScheduleUpdateAnswer = expect(answer, ScheduleUpdateAnswer)
    if said.update is None:
        return {"status": "Rejected"}
    return {"status": "Accepted", "scheduleUpdate": write_update(said.update)}


INBOUND: Mapping[str, Heard | Spelled] = {
    "PullDynamicScheduleUpdate": Spelled(ScheduleUpdateAsked),
    "NotifyPriorityCharging": Spelled(PriorityReported),
}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {ScheduleUpdateAsked: write_pulled}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {
    UpdateSchedule: Asked("UpdateDynamicSchedule", write_dynamic, plain_result),
    UsePriority: Ordered("UsePriorityCharging"),
    AllowEnergyTransfer: Ordered("NotifyAllowedEnergyTransfer", {"modes": "allowedEnergyTransfer"}),
    SendBalancingSignal: Ordered("AFRRSignal"),
}
