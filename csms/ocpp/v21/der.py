"""What the grid asks of cars that feed back, in OCPP 2.1 (block R)."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any

from csms.ocpp.fields import Fields
from csms.ocpp.keys import our_name, our_word
from csms.ocpp.schemas import Part, schema
from csms.ocpp.shapes import Shape, resolve
from csms.ocpp.texts import clean
from csms.ocpp.translator import Asked, Heard, Ordered, Spelled, Writer, status_of
from csms.ocpp.version import Version
from csms.stations.commands import Command, CommandResult
from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.words.der import (
    ClearDerControl,
    DerAlarmReported,
    DerControl,
    DerControlsReported,
    DerCurve,
    DerKind,
    DerReported,
    EnterService,
    FixedPf,
    FixedVar,
    FreqDroop,
    GetDerControls,
    Gradient,
    LimitMaxDischarge,
    SetDerControl,
)

CURVE = {"reactive_power": "reactivePowerParams", "voltage": "voltageParams"}


@dataclass(frozen=True, slots=True)
class Held:
    """A list of a report: the part in each of its items, what it becomes, and its field in ours."""

    part: str
    kind: type[Any]
    field: str


LISTS: Mapping[str, Held] = {
    "curve": Held("curve", DerCurve, "curve"),
    "enterService": Held("enterService", EnterService, "enter_service"),
    "fixedPFAbsorb": Held("fixedPF", FixedPf, "fixed_pf"),
    "fixedPFInject": Held("fixedPF", FixedPf, "fixed_pf"),
    "fixedVar": Held("fixedVar", FixedVar, "fixed_var"),
    "freqDroop": Held("freqDroop", FreqDroop, "freq_droop"),
    "gradient": Held("gradient", Gradient, "gradient"),
    "limitMaxDischarge": Held("limitMaxDischarge", LimitMaxDischarge, "limit_max_discharge"),
}


@cache
def _shape(name: str) -> Shape:
    held = LISTS[name]
    whole = schema(Version.OCPP21, "ReportDERControl", Part.REQUEST)
    definitions = whole["definitions"]
    item = resolve(whole["properties"][name]["items"], definitions)
    part = resolve(item["properties"][held.part], definitions)
    where = CURVE if held.kind is DerCurve else _nested(CURVE)
    return Shape(held.kind, part, definitions, "OCPP 2.1", where)


def _nested(where: Mapping[str, str]) -> dict[str, str]:
    return {f"power_monitoring_must_trip.{ours}": wire for ours, wire in where.items()}


def read_report(said: Fields, now: datetime) -> DerControlsReported:
    """Raises Unreadable without the id of the request that it belongs to."""
    request_id = said.whole("requestId")
    if request_id is None:
        raise said.false("requestId", "is missing: nobody knows which report this is a part of")
    controls = [_control(name, each) for name in LISTS for each in said.parts(name)]
    return DerControlsReported(request_id, not said.flag("tbc"), tuple(controls))


def _control(name: str, said: Fields) -> DerControl:
    held = LISTS[name]
    kind = our_word(said.text("curveType")) if name == "curve" else _KINDS.get(name, our_name(name))
    return DerControl(
        id=said.text("id"),
        kind=kind,
        default=said.flag("isDefault"),
        superseded=said.flag("isSuperseded"),
        **{held.field: _shape(name).read(said.part(held.part))},
    )


_KINDS: Mapping[str, str] = {"gradient": DerKind.GRADIENTS}
"""Lists of a report that are not called as the kind of their controls is."""


def read_set(command: SetDerControl, said: Fields) -> CommandResult:
    """`data`: ids of the controls that rest from now on."""
    return CommandResult(*status_of(said), tuple(map(clean, said.items("supersededIds"))))


INBOUND: Mapping[str, Heard | Spelled] = {
    "ReportDERControl": Heard(DerControlsReported, read_report),
    "NotifyDERAlarm": Spelled(DerAlarmReported, {"fault": "gridEventFault", "ended": "alarmEnded"}),
    "NotifyDERStartStop": Spelled(DerReported),
}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {
    SetDerControl: Ordered(
        "SetDERControl",
        {
            **{f"curve.{ours}": wire for ours, wire in CURVE.items()},
            **{f"limit_max_discharge.{ours}": wire for ours, wire in _nested(CURVE).items()},
        },
        read=read_set,
    ),
    GetDerControls: Ordered("GetDERControl"),
    ClearDerControl: Ordered("ClearDERControl"),
}
