"""Commands as JSON: readable, storable, without secrets."""

import json
from datetime import UTC, datetime

import pytest

from csms.stations.commands import SetProfile, SetVariables, StartCharging
from csms.stations.encoding import MASK, is_secret, plain, storable
from csms.stations.model import (
    ChargingProfile,
    ProfileKind,
    ProfilePeriod,
    ProfilePurpose,
    TokenKind,
    TokenRef,
    VariableValue,
)
from csms.stations.words.network import Apn, SetNetworkProfile, Vpn, VpnKind


def test_a_command_becomes_its_fields() -> None:
    command = StartCharging(evse=1, token=TokenRef("04A2", TokenKind.RFID), remote_start_id=7)
    assert plain(command) == {
        "evse": 1,
        "token": {"text": "04A2", "kind": "rfid"},
        "remote_start_id": 7,
        "profile": None,
    }


def test_a_profile_survives_json() -> None:
    profile = ChargingProfile(
        id=3,
        stack_level=1,
        purpose=ProfilePurpose.TX,
        kind=ProfileKind.ABSOLUTE,
        periods=(ProfilePeriod(0, 16.0), ProfilePeriod(120, 6.5)),
        start_at=datetime(2026, 11, 2, 11, 0, tzinfo=UTC),
    )
    body = plain(SetProfile(1, profile))
    assert json.loads(json.dumps(body)) == body
    assert body["profile"]["start_at"] == "2026-11-02T11:00:00+00:00"
    assert [period["limit"] for period in body["profile"]["periods"]] == [16.0, 6.5]


@pytest.mark.parametrize("path", ["AuthorizationKey", "SecurityCtrlr/BasicAuthPassword"])
def test_a_key_is_masked(path: str) -> None:
    # The two names under which OCPP 1.6 and 2.x set the key of a station.
    body = plain(SetVariables((VariableValue(path, "00112233"), VariableValue("HeartbeatInterval", "60"))))
    assert [value["value"] for value in body["values"]] == [MASK, "60"]
    assert is_secret(path)
    assert not is_secret("HeartbeatInterval")


@pytest.mark.parametrize(("text", "kept"), [("a\0b", "ab"), ("\ud800", "?"), ("grün ✓ 🔌", "grün ✓ 🔌")])
def test_what_a_database_cannot_hold_is_left_out(text: str, kept: str) -> None:
    assert storable(text) == kept
    assert plain((text, {"key": text})) == [kept, {"key": kept}]


def test_what_has_no_json_form_becomes_its_text() -> None:
    assert plain(1 + 2j) == "(1+2j)"
    assert [plain(value) for value in (None, True, 1, 1.5)] == [None, True, 1, 1.5]


def test_a_password_in_a_command_is_masked() -> None:
    vpn = Vpn(server="vpn.example", user="yard", password="p4", shared_key="k1", kind=VpnKind.IPSEC)
    apn = Apn(apn="m2m.example", password="p3", sim_pin=1234)
    command = SetNetworkProfile(
        slot=1, url="wss://yard.example", security_profile=2, password="p5", apn=apn, vpn=vpn
    )
    body = plain(command)
    assert [body["password"], body["apn"]["password"], body["apn"]["sim_pin"]] == [MASK] * 3
    assert [body["vpn"]["password"], body["vpn"]["shared_key"]] == [MASK] * 2
    assert plain(Apn(apn="m2m.example"))["password"] == ""
