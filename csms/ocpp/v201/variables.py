"""Variables and reports of OCPP 2.0.1's device model (block B; Part 1 section 4).

The path of a variable is `component#instance@evse.connector/variable#instance`; what is
absent is left out with its mark, and the marks inside a name are percent-encoded. Only the
attribute Actual has a place in the neutral form.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from urllib.parse import unquote

from csms.ocpp.adapter import Unsupported
from csms.ocpp.fields import Fields
from csms.ocpp.texts import clean
from csms.ocpp.translator import ACCEPTANCE, Asked, Heard, Payload, Writer, plain_result
from csms.stations.commands import (
    Command,
    CommandResult,
    CommandStatus,
    GetReport,
    GetVariables,
    SetVariables,
)
from csms.stations.events import Event, VariablesReported
from csms.stations.model import VariableValue
from csms.stations.questions import Question

LONGEST_NAME = 50
LONGEST_VALUE = 1000
"""The longest attributeValue that may be set (SetVariableDataType)."""

_MARKS = str.maketrans({mark: f"%{ord(mark):02X}" for mark in "%#@/"})


def path_of(said: Fields) -> str:
    """The path of an object with `component` and `variable`; "" when a name is missing."""
    component, variable = component_of(said.part("component")), said.part("variable")
    return f"{component}/{_named(variable)}" if component and variable.text("name") else ""


def component_of(component: Fields) -> str:
    """The part of a path that names a component; "" when it has no name."""
    if not component.text("name"):
        return ""
    evse = component.part("evse")
    place, connector = evse.whole("id"), evse.whole("connectorId")
    where = "" if place is None else f"@{place}" if connector is None else f"@{place}.{connector}"
    return f"{_named(component)}{where}"


def _named(said: Fields) -> str:
    """Name and instance, encoded."""
    name, instance = said.text("name").translate(_MARKS), said.text("instance").translate(_MARKS)
    return f"{name}#{instance}" if instance else name


def wire_path(path: str) -> Payload | Unsupported:
    """`component` and `variable` of the wire for a path."""
    component_text, slash, variable_text = path.partition("/")
    component, variable = wire_component(component_text), _unnamed(variable_text)
    if component is None or variable is None or not slash:
        return Unsupported(f"{path!r:.120}: write component#instance@evse.connector/variable#instance")
    return {"component": component, "variable": variable}


def wire_component(text: str) -> Payload | None:
    """The component of the wire for the first part of a path; None for what is none."""
    text, at, place = text.partition("@")
    component = _unnamed(text)
    if component is None or not at:
        return component
    evse, dot, connector = place.partition(".")
    if not _is_number(evse) or (dot and not _is_number(connector)):
        return None
    component["evse"] = {"id": int(evse)} | ({"connectorId": int(connector)} if dot else {})
    return component


def _is_number(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < 10


def _unnamed(text: str) -> dict[str, Any] | None:
    """`name` and `instance` of the wire; None when one is empty or too long."""
    name, mark, instance = text.partition("#")
    wire: dict[str, Any] = {"name": unquote(name)}
    if mark:
        wire["instance"] = unquote(instance)
    return wire if all(0 < len(value) <= LONGEST_NAME for value in wire.values()) else None


def read_value(raw: object) -> str | None:
    """An attribute's value as text."""
    if isinstance(raw, bool):
        return "true" if raw else "false"
    return None if raw is None else clean(raw)


def read_report(said: Fields, now: datetime) -> VariablesReported:
    """Raises Unreadable without the id of the request that it belongs to."""
    request_id = said.whole("requestId")
    if request_id is None:
        raise said.false("requestId", "is missing: nobody knows which report this is a part of")
    values = [value for data in said.parts("reportData") if (value := _reported(data)) is not None]
    return VariablesReported(request_id, said.whole("seqNo") or 0, not said.flag("tbc"), tuple(values))


def _reported(data: Fields) -> VariableValue | None:
    """A variable with its attribute Actual (the default type); None when it has no name."""
    path = path_of(data)
    if not path:
        return None
    for attribute in data.parts("variableAttribute"):
        if attribute.text("type") in ("", "Actual"):
            value = read_value(attribute.raw("value"))
            return VariableValue(path, value, attribute.text("mutability") == "ReadOnly")
    return VariableValue(path, None)


def write_get(command: GetVariables) -> Payload | Unsupported:
    if not command.paths:
        return Unsupported("paths: name them, or ask OCPP 2.0.1 stations for a report")
    wanted = []
    for path in command.paths:
        wire = wire_path(path)
        if isinstance(wire, Unsupported):
            return wire
        wanted.append(wire)
    return {"getVariableData": wanted}


def read_get(command: GetVariables, said: Fields) -> CommandResult:
    """Each variable in the station's spelling; those refused have value None and stand in the detail."""
    values, refused = [], []
    worst = CommandStatus.REJECTED
    for result in said.parts("getVariableResult"):
        path, word = path_of(result), result.text("attributeStatus")
        status = ACCEPTANCE.read(word) or CommandStatus.ERROR
        accepted = status is CommandStatus.ACCEPTED
        values.append(VariableValue(path, read_value(result.raw("attributeValue")) if accepted else None))
        if not accepted:
            refused.append(f"{path}: {word}")
            worst = status
    if not values:
        raise said.false("getVariableResult", "is missing: the station told nothing")
    status = CommandStatus.ACCEPTED if len(refused) < len(values) else worst
    return CommandResult(status, "; ".join(refused), tuple(values))


def write_set(command: SetVariables) -> Payload | Unsupported:
    wanted = []
    for variable in command.values:
        wire = wire_path(variable.path)
        if isinstance(wire, Unsupported):
            return wire
        if variable.value is None or len(variable.value) > LONGEST_VALUE:
            return Unsupported(f"values: {variable.path} needs a value of at most {LONGEST_VALUE} characters")
        wanted.append({**wire, "attributeValue": variable.value})
    return {"setVariableData": wanted} if wanted else Unsupported("values: there is nothing to set")


def read_set(command: SetVariables, said: Fields) -> CommandResult:
    """ACCEPTED only if each one was; REBOOT_REQUIRED if the others were accepted."""
    told = []
    status = CommandStatus.ACCEPTED
    for result in said.parts("setVariableResult"):
        word = result.text("attributeStatus")
        told.append((path_of(result), word))
        one = ACCEPTANCE.read(word) or CommandStatus.ERROR
        if one is not CommandStatus.ACCEPTED and status in _MILD:
            status = one
    if not told:
        raise said.false("setVariableResult", "is missing: whether the station agreed is unknown")
    refused = "; ".join(f"{path}: {word}" for path, word in told if word != "Accepted")
    return CommandResult(status, refused, tuple(told))


_MILD = (CommandStatus.ACCEPTED, CommandStatus.REBOOT_REQUIRED)


def write_report(command: GetReport) -> Payload:
    base = "FullInventory" if command.full else "ConfigurationInventory"
    return {"requestId": command.request_id, "reportBase": base}


INBOUND: Mapping[str, Heard] = {"NotifyReport": Heard(VariablesReported, read_report)}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked] = {
    GetVariables: Asked("GetVariables", write_get, read_get),
    SetVariables: Asked("SetVariables", write_set, read_set),
    GetReport: Asked("GetBaseReport", write_report, plain_result),
}
