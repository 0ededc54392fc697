"""Plays a vector against an adapter and lists what differs; every payload faces the official schema."""

from typing import Any

from csms.ocpp.adapter import Adapter, Unreadable, Unsupported
from tests.vectors.reader import NOW, UNANSWERED, build, official, plain


def hear(adapter: Adapter, version: str, case: dict[str, Any]) -> list[object]:
    """Read a station's message and answer it; [] when all is as the vector says."""
    action, payload = case["action"], case["payload"]
    found: list[object] = []
    if official(version, action, "request").is_valid(payload) is case.get("broken", False):
        found.append("the vector's payload is not as (in)valid as it says")
    try:
        question = adapter.inbound(action, payload, NOW)
    except Unreadable as error:
        return found + ([] if error.field == case.get("unreadable") else [str(error)])
    if plain(question) != case.get("means"):
        found.append({"means": plain(question), "not": case.get("means")})
    if type(question) is not adapter.inbound_actions[action]:
        found.append("it is of another type than the table says")
    answer = build(case["answer"]) if "answer" in case else None
    written = adapter.answer(question, answer, NOW)
    if written != case["answer_payload"]:
        found.append({"answer": written, "not": case["answer_payload"]})
    if action not in UNANSWERED:
        official(version, action, "response").validate(written)
    return found


def send(adapter: Adapter, version: str, case: dict[str, Any]) -> list[object]:
    """Write a command and read its results; [] when all is as the vector says."""
    action, command = case["action"], build(case["command"])
    found: list[object] = []
    written = adapter.outbound(command)
    if isinstance(written, Unsupported):
        expected = case.get("unsupported")
        return [] if expected and written.problem.startswith(expected) else [written.problem]
    if written != (action, case.get("payload")) or adapter.asked_actions[action] is not type(command):
        found.append({"written": written, "not": (action, case.get("payload"))})
    official(version, action, "request").validate(written[1])
    for result in case["results"]:
        official(version, action, "response").validate(result["payload"])
        read = plain(adapter.result(command, result["payload"]))
        read["data"] = plain(read["data"], outermost=False) if "data" in read else None
        expected = {"data": None, **result["means"]}
        if read != expected:
            found.append({"read": read, "not": expected})
    return found
