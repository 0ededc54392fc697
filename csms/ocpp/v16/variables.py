"""Configuration keys in OCPP 1.6 (sections 5.3, 5.8): variables with an empty component.

The path of a key is `/` and the key, e.g. `/HeartbeatInterval`.
"""

from collections.abc import Mapping

from csms.ocpp.adapter import Unsupported
from csms.ocpp.fields import Fields
from csms.ocpp.texts import clean
from csms.ocpp.translator import Asked, Heard, Payload, Writer, status_of
from csms.stations.commands import Command, CommandResult, CommandStatus, GetVariables, SetVariables
from csms.stations.events import Event
from csms.stations.model import VariableValue
from csms.stations.questions import Question

LONGEST_KEY = 50
LONGEST_VALUE = 500


def key_of(path: str) -> str | Unsupported:
    """The key that `path` names, e.g. of `/HeartbeatInterval`."""
    component, slash, key = path.rpartition("/")
    if component or not slash or not 0 < len(key) <= LONGEST_KEY:
        return Unsupported(
            f"{path!r:.80}: a key of OCPP 1.6 is written /Key, at most {LONGEST_KEY} characters"
        )
    return key


def write_get(command: GetVariables) -> Payload | Unsupported:
    """No keys: the station tells all that it has."""
    keys = []
    for path in command.paths:
        key = key_of(path)
        if isinstance(key, Unsupported):
            return key
        keys.append(key)
    return {"key": keys} if keys else {}


def read_get(command: GetVariables, said: Fields) -> CommandResult:
    """Unknown keys come back with value None and are named in the detail."""
    values = [
        VariableValue("/" + key.text("key"), _value(key), key.flag("readonly"))
        for key in said.parts("configurationKey")
        if key.text("key")
    ]
    unknown = [name for name in map(clean, said.items("unknownKey")) if name]
    data = (*values, *(VariableValue("/" + name, None) for name in unknown))
    status = CommandStatus.ACCEPTED if values or not unknown else CommandStatus.UNKNOWN
    return CommandResult(status, f"unknown: {', '.join(unknown)}" if unknown else "", data)


def _value(key: Fields) -> str | None:
    """A key's value as text; a write-only key has none."""
    raw = key.raw("value")
    if isinstance(raw, bool):
        return "true" if raw else "false"
    return None if raw is None else clean(raw)


def write_set(command: SetVariables) -> Payload | Unsupported:
    if len(command.values) != 1:
        return Unsupported("values: OCPP 1.6 changes one key at a time; send one command for each")
    variable = command.values[0]
    key = key_of(variable.path)
    if isinstance(key, Unsupported):
        return key
    if variable.value is None or len(variable.value) > LONGEST_VALUE:
        return Unsupported(f"values: {variable.path} needs a value of at most {LONGEST_VALUE} characters")
    return {"key": key, "value": variable.value}


def read_set(command: SetVariables, said: Fields) -> CommandResult:
    status, detail = status_of(said)
    return CommandResult(status, detail, tuple((variable.path, detail) for variable in command.values))


INBOUND: Mapping[str, Heard] = {}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked] = {
    GetVariables: Asked("GetConfiguration", write_get, read_get),
    SetVariables: Asked("ChangeConfiguration", write_set, read_set),
}
