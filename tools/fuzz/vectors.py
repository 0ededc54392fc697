"""The recorded messages: what stations say, and what they answer."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from csms.ocpp.version import Version

HOME = Path(__file__).parents[2] / "tests" / "vectors"
FOLDERS: Mapping[Version, str] = {Version.OCPP16: "v16", Version.OCPP201: "v201", Version.OCPP21: "v21"}


@dataclass(frozen=True, slots=True)
class Recorded:
    """Calls of stations (action, payload) and payloads of answers to ours."""

    calls: Sequence[tuple[str, dict[str, Any]]]
    answers: Sequence[dict[str, Any]]


def recorded(version: Version) -> Recorded:
    """All of a version; those of 2.0.1 are said in 2.1 too."""
    folders = [FOLDERS[version]]
    if version is Version.OCPP21:
        folders.append(FOLDERS[Version.OCPP201])
    calls, answers = [], []
    for folder in folders:
        for path in sorted((HOME / folder).glob("*.json")):
            for case in json.loads(path.read_text()):
                if case["from"] == "station":
                    calls.append((case["action"], case["payload"]))
                answers += [each["payload"] for each in case.get("results", ())]
    return Recorded(calls, answers)
