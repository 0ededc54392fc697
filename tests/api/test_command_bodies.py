"""Bodies made from commands: every command has one, and comes back from it as it was."""

from decimal import Decimal
from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from api.command_bodies import APART, KINDS, AnyCommand, build, name_of
from csms.stations.commands import COMMANDS, GetVariables, SetProfile, Trigger, TriggerKind
from csms.stations.encoding import plain
from csms.stations.words.costs import SetDefaultTariff
from csms.stations.words.firmware import GetLog, LogKind
from csms.stations.words.monitoring import AdjustStream, StreamRate
from tests.vectors.reader import build as build_vector
from tests.vectors.reader import every

BODY: TypeAdapter[Any] = TypeAdapter(AnyCommand)


def asked(body: dict[str, Any], number: int = 5) -> Any:
    return build(BODY.validate_python(body), lambda: number)


def test_every_command_but_those_apart_has_a_body() -> None:
    assert set(KINDS.values()) | set(APART) == set(COMMANDS)
    assert name_of(GetLog) == "get_log"


@pytest.mark.parametrize("version", ["v16", "v201", "v21"])
def test_every_command_of_the_vectors_can_be_given(version: str) -> None:
    given = 0
    for case in every(version):
        if case["from"] == "us" and "payload" in case:
            command = build_vector(case["command"])
            if type(command) in APART:
                continue
            body = {"command": name_of(type(command)), **written(case["command"])}
            assert plain(asked(body)) == plain(command)
            given += 1
    assert given > 30


def written(command: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in command.items() if name != "is"}


def test_an_id_of_a_request_is_drawn_when_left_out() -> None:
    command = asked({"command": "get_log", "location": "https://yard.example/up", "kind": "security"})
    assert command == GetLog(request_id=5, location="https://yard.example/up", kind=LogKind.SECURITY)
    assert asked({"command": "get_log", "request_id": 9, "location": "x"}).request_id == 9
    drawn = build(BODY.validate_python({"command": "get_report"}))
    # OCPP 2.0.1: requestId is an integer of 32 bits.
    assert 1 <= getattr(drawn, "request_id", 0) < 2**31


def test_parts_lists_and_amounts() -> None:
    price = {"prices": [{"price_kwh": "0.31"}]}
    tariff = {"tariff_id": "t", "currency": "EUR", "energy": price}
    command = asked({"command": "set_default_tariff", "evse": 0, "tariff": tariff})
    assert isinstance(command, SetDefaultTariff)
    assert command.tariff.energy is not None
    assert command.tariff.energy.prices[0].price_kwh == Decimal("0.31")
    assert asked({"command": "get_variables", "paths": ["A/B"]}) == GetVariables(("A/B",))
    assert asked({"command": "trigger", "kind": "log"}) == Trigger(TriggerKind.LOG)
    assert asked({"command": "adjust_stream", "id": 1, "rate": {}}) == AdjustStream(1, StreamRate())
    profile = {"id": 1, "stack_level": 0, "purpose": "tx_default", "kind": "relative"}
    periods = [{"start_s": 0, "limit": 6}]
    command = asked({"command": "set_profile", "evse": 0, "profile": {**profile, "periods": periods}})
    assert isinstance(command, SetProfile)
    assert command.profile.periods[0].limit == 6.0


@pytest.mark.parametrize(
    ("body", "place"),
    [
        ({}, ()),
        ({"command": "dance"}, ()),
        ({"command": "get_log"}, ("get_log", "location")),
        ({"command": "get_log", "location": "x", "kind": "gossip"}, ("get_log", "kind")),
        ({"command": "get_log", "location": "x", "speed": 1}, ("get_log", "speed")),
        ({"command": "get_log", "location": "a\0b"}, ("get_log", "location")),
        (
            {"command": "cancel_reservation", "reservation_id": 2**31},
            ("cancel_reservation", "reservation_id"),
        ),
        ({"command": "cancel_reservation", "reservation_id": "1"}, ("cancel_reservation", "reservation_id")),
        ({"command": "tell_cost", "transaction_id": "b0", "total": "a lot"}, ("tell_cost", "total")),
        ({"command": "adjust_stream", "id": 1, "rate": {"pace": 1}}, ("adjust_stream", "rate", "pace")),
    ],
)
def test_a_wrong_body_names_its_place(body: dict[str, Any], place: tuple[str, ...]) -> None:
    with pytest.raises(ValidationError) as caught:
        BODY.validate_python(body)
    assert caught.value.errors()[0]["loc"] == place
