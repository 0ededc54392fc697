"""Held against `jsonschema`, the validator that the package `ocpp` itself uses, as an independent judge."""

from decimal import Decimal

import jsonschema  # type: ignore[import-untyped]
import pytest

from csms.ocpp.actions import KNOWN, UNANSWERED
from csms.ocpp.faults import Fault
from csms.ocpp.schemas import MOST_VIOLATIONS, Part, schema, valid, violations
from csms.ocpp.version import Version

V16, V201 = Version.OCPP16, Version.OCPP201


@pytest.mark.parametrize("version", Version)
def test_every_schema_of_the_standard_compiles_and_judges(version: Version) -> None:
    judged = 0
    for action in KNOWN[version]:
        for part in Part:
            if action in UNANSWERED and part is Part.RESPONSE:
                continue
            judge = jsonschema.validators.validator_for(schema(version, action, part))
            for payload in ({}, {"status": "Accepted"}, {"connectorId": 1}, {"unheard": 1}):
                expected = judge(schema(version, action, part)).is_valid(payload)
                assert valid(version, action, part, payload) is expected, (action, part, payload)
                assert (violations(version, action, part, payload) == ()) is expected
                judged += 1
    # files in the package: 78, 128 and 181
    assert judged == 4 * {"1.6": 78, "2.0.1": 128, "2.1": 181}[version.value]


@pytest.mark.parametrize("action", ["Nope", "../Heartbeat", "", "TransactionEvent"])
def test_there_is_no_such_message(action: str) -> None:
    with pytest.raises(KeyError):
        valid(V16, action, Part.REQUEST, {})


METER = {"connectorId": 1, "meterValue": [{"timestamp": "yesterday", "sampledValue": [{"value": "1"}]}]}


@pytest.mark.parametrize(
    ("change", "path", "rule", "fault"),
    [
        ({"connectorId": "1"}, "connectorId", "type", Fault.TYPE),
        ({"meterValue": []}, "meterValue", "minItems", Fault.OCCURRENCE),
        ({"meterValue": [{}]}, "meterValue[0].sampledValue", "required", Fault.OCCURRENCE),
        ({"extra": 1}, "", "additionalProperties", Fault.FORMAT),
        (
            {"meterValue": [{"timestamp": "x", "sampledValue": [{"value": "1", "unit": "Hz"}]}]},
            "meterValue[0].sampledValue[0].unit",
            "enum",
            Fault.PROPERTY,
        ),
    ],
)
def test_each_rule_has_its_code(change: dict[str, object], path: str, rule: str, fault: Fault) -> None:
    first = violations(V16, "MeterValues", Part.REQUEST, {**METER, **change})[0]
    assert (first.path, first.rule, first.fault) == (path, rule, fault)


def test_times_are_not_judged_here() -> None:
    assert valid(V16, "MeterValues", Part.REQUEST, METER)


def test_what_is_missing_is_told_first_whatever_the_order_of_the_payload() -> None:
    one = violations(V16, "BootNotification", Part.REQUEST, {"x": 1, "chargePointVendor": "v" * 30})
    two = violations(V16, "BootNotification", Part.REQUEST, {"chargePointVendor": "v" * 30, "x": 1})
    assert one == two
    assert [violation.rule for violation in one] == ["required", "maxLength", "additionalProperties"]
    assert str(one[0]) == "chargePointModel: is missing"
    assert str(one[1]) == "chargePointVendor: breaks maxLength 20"
    assert str(one[2]) == "has unknown properties: x"


def test_problems_do_not_repeat_what_the_station_sent() -> None:
    told = violations(V16, "Authorize", Part.REQUEST, {"idTag": {"secret": "0123"}})
    assert "0123" not in str(told[0])


def test_a_flood_of_faults_is_cut() -> None:
    samples = [{"value": 1}] * 500
    told = violations(
        V16,
        "MeterValues",
        Part.REQUEST,
        {**METER, "meterValue": [{"timestamp": "x", "sampledValue": samples}]},
    )
    assert len(told) == MOST_VIOLATIONS


def profile(limit: object) -> dict[str, object]:
    return {
        "connectorId": 1,
        "csChargingProfiles": {
            "chargingProfileId": 1,
            "stackLevel": 0,
            "chargingProfilePurpose": "TxDefaultProfile",
            "chargingProfileKind": "Relative",
            "chargingSchedule": {
                "chargingRateUnit": "A",
                "chargingSchedulePeriod": [{"startPeriod": 0, "limit": limit}],
            },
        },
    }


def test_every_limit_with_one_decimal_passes_and_two_decimals_do_not() -> None:
    tenths = [float(Decimal(n) / 10) for n in range(801)]
    assert all(valid(V16, "SetChargingProfile", Part.REQUEST, profile(limit)) for limit in tenths)
    assert violations(V16, "SetChargingProfile", Part.REQUEST, profile(6.25))[0].rule == "multipleOf"


def test_draft_06_takes_10_0_for_a_whole_number_and_draft_04_does_not() -> None:
    assert not valid(V16, "GetConfiguration", Part.REQUEST, {"key": 1})
    assert not valid(V16, "RemoteStopTransaction", Part.REQUEST, {"transactionId": 10.0})
    assert valid(V201, "GetReport", Part.REQUEST, {"requestId": 10.0})
