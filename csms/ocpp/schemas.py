"""Payloads judged by the official schemas, with the standard's error code for each fault.

The schema files come inside the package `ocpp`; each is compiled once, when its action is
first met. Formats are not checked: stations send times in many spellings, which the
translators read themselves. All faults of a payload are found and sorted by our own
precedence, so that equal payloads get equal answers.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files
from typing import Any

import jsonschema_rs

from csms.ocpp.actions import UNANSWERED
from csms.ocpp.faults import Fault
from csms.ocpp.version import Version

MOST_VIOLATIONS = 50
"""More faults than this in one payload are not listed."""


class Part(StrEnum):
    """Which half of an exchange a payload belongs to."""

    REQUEST = "request"
    RESPONSE = "response"


@dataclass(frozen=True, slots=True)
class Violation:
    """One fault: where (`meterValue[0].timestamp`, "" for the payload itself), which rule, what."""

    path: str
    rule: str
    problem: str
    fault: Fault

    def __str__(self) -> str:
        return f"{self.path}: {self.problem}" if self.path else self.problem


_FOLDERS: Mapping[Version, str] = {Version.OCPP16: "v16", Version.OCPP201: "v201", Version.OCPP21: "v21"}

# In the order in which they are told: what is missing first, since the rest may follow from it.
# Meaning of the codes: OCPP-J 1.6 table 7, OCPP 2.0.1 part 4 §4.3 (assignment from memory).
_FAULTS: Mapping[str, Fault] = {
    "required": Fault.OCCURRENCE,
    "type": Fault.TYPE,
    "minItems": Fault.OCCURRENCE,
    "maxItems": Fault.OCCURRENCE,
    "enum": Fault.PROPERTY,
    "maxLength": Fault.PROPERTY,
    "minimum": Fault.PROPERTY,
    "maximum": Fault.PROPERTY,
    "multipleOf": Fault.PROPERTY,
    "additionalProperties": Fault.FORMAT,
}
_RANK = {rule: rank for rank, rule in enumerate(_FAULTS)}


@cache
def schema(version: Version, action: str, part: Part) -> dict[str, Any]:
    """The official schema. Raises KeyError when the version has no such message."""
    if part is Part.RESPONSE:
        name = f"{action}Response.json"
    elif version is Version.OCPP16 or action in UNANSWERED:
        name = f"{action}.json"
    else:
        name = f"{action}Request.json"
    place = files("ocpp").joinpath(_FOLDERS[version], "schemas", name)
    if not action.isalnum() or not place.is_file():
        raise KeyError(f"OCPP {version} has no {part} {action}")
    # Some of the files begin with a byte order mark.
    loaded: dict[str, Any] = json.loads(place.read_bytes().decode("utf-8-sig"))
    return loaded


@cache
def _validator(version: Version, action: str, part: Part) -> jsonschema_rs.Validator:
    return jsonschema_rs.validator_for(schema(version, action, part), validate_formats=False)


def valid(version: Version, action: str, part: Part, payload: Mapping[str, Any]) -> bool:
    """Whether `payload` keeps to the schema. Raises KeyError when there is none."""
    return _validator(version, action, part).is_valid(payload)


def violations(
    version: Version, action: str, part: Part, payload: Mapping[str, Any]
) -> tuple[Violation, ...]:
    """All faults of `payload` (MOST_VIOLATIONS at most), the weightiest first; () when valid."""
    found = []
    for error in _validator(version, action, part).iter_errors(payload):
        found.append(_violation(error))
        if len(found) >= MOST_VIOLATIONS:
            break
    return tuple(sorted(found, key=lambda one: (_RANK.get(one.rule, len(_RANK)), one.path, one.problem)))


def _violation(error: jsonschema_rs.ValidationError) -> Violation:
    rule = error.kind.name
    told = error.kind.as_dict()
    path = _spell(error.instance_path)
    match rule:
        case "required":
            path = f"{path}.{told['property']}" if path else str(told["property"])
            problem = "is missing"
        case "type":
            problem = f"must be of type {' or '.join(told['types'])}"
        case "enum":
            problem = "is not one of the values of the standard"
        case "additionalProperties":
            problem = f"has unknown properties: {', '.join(sorted(told['unexpected']))[:80]}"
        case _:
            problem = f"breaks {rule} {told.get('limit', told.get('multiple_of', ''))}".rstrip()
    return Violation(path, rule, problem, _FAULTS.get(rule, Fault.FORMAT))


def _spell(path: list[str | int]) -> str:
    spelled = ""
    for step in path:
        if isinstance(step, int):
            spelled += f"[{step}]"
        else:
            spelled += f".{step}" if spelled else step
    return spelled[:120]
