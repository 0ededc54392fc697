"""Each row: what a station sends, what we read. Such stations exist (common practice)."""

from typing import Any

import pytest

from csms.ocpp.actions import KNOWN, UNANSWERED
from csms.ocpp.schemas import Part, valid
from csms.ocpp.tolerance import MOST_NOTES, mend
from csms.ocpp.version import Version

V16, V201 = Version.OCPP16, Version.OCPP201


def boot(**changes: object) -> dict[str, object]:
    return {"chargePointVendor": "Mill Works", "chargePointModel": "W1", **changes}


@pytest.mark.parametrize(
    ("sent", "read", "note"),
    [
        ({"iccid": ""}, {}, "iccid: is empty; taken as absent"),
        ({"iccid": None}, {}, "iccid: is empty; taken as absent"),
        ({"iccid": " \x00 "}, {}, "iccid: is empty; taken as absent"),
        ({"iccid": "89\x00\x00 "}, {"iccid": "89"}, "iccid: had blanks or NUL"),
        ({"iccid": 8944}, {"iccid": "8944"}, "iccid: is a number where a text is due"),
        (
            {"chargePointSerialNumber": "S" * 40},
            {"chargePointSerialNumber": "S" * 40},
            "chargePointSerialNumber: has 40 characters, more than 25",
        ),
        ({"colour": "red"}, {}, "colour: is not in the standard; left out"),
    ],
)
def test_texts_of_a_boot(sent: dict[str, object], read: dict[str, object], note: str) -> None:
    mended, notes = mend(V16, "BootNotification", Part.REQUEST, boot(**sent))
    assert mended == boot(**read)
    assert any(one.startswith(note) for one in notes), notes


def sample(**fields: object) -> dict[str, object]:
    value = {"value": "1", **fields}
    return {"connectorId": 1, "meterValue": [{"timestamp": "2026-03-01T12:00:00Z", "sampledValue": [value]}]}


@pytest.mark.parametrize(
    ("sent", "read"),
    [
        ({"value": 230.1}, {"value": "230.1"}),
        ({"value": 17}, {"value": "17"}),
        ({"value": " 17 "}, {"value": "17"}),
        ({"unit": "wh"}, {"value": "1", "unit": "Wh"}),
        ({"unit": "Hz"}, {"value": "1", "unit": "Hz"}),
        ({"measurand": "Mill.Wheel.Speed"}, {"value": "1", "measurand": "Mill.Wheel.Speed"}),
        ({"phase": "", "context": None}, {"value": "1"}),
        ({"phase": "l1-n"}, {"value": "1", "phase": "L1-N"}),
    ],
)
def test_sampled_values(sent: dict[str, object], read: dict[str, object]) -> None:
    mended, notes = mend(V16, "MeterValues", Part.REQUEST, sample(**sent))
    assert mended["meterValue"][0]["sampledValue"] == [read]
    assert notes


@pytest.mark.parametrize(
    ("sent", "read"),
    [
        (10.0, 10),
        ("10", 10),
        ("10.0", 10),
        ("-1", -1),
        ("ten", "ten"),
        ("", ""),
        ("1e400", "1e400"),
        ("nan", "nan"),
        (1e300, 1e300),
        (10.5, 10.5),
        ([], []),
        ({}, {}),
        (True, True),
    ],
)
def test_whole_numbers(sent: object, read: object) -> None:
    mended, _ = mend(V16, "MeterValues", Part.REQUEST, {**sample(), "connectorId": sent})
    assert (mended["connectorId"], type(mended["connectorId"])) == (read, type(read))


def event(**changes: object) -> dict[str, Any]:
    return {
        "eventType": "Updated",
        "timestamp": "2026-03-01T12:00:00Z",
        "triggerReason": "MeterValuePeriodic",
        "seqNo": 3,
        "transactionInfo": {"transactionId": "t-1"},
        **changes,
    }


@pytest.mark.parametrize(
    ("sent", "read"),
    [
        ({"offline": "true"}, {"offline": True}),
        ({"offline": "False"}, {"offline": False}),
        ({"offline": ""}, {}),
        ({"seqNo": "4"}, {"seqNo": 4}),
        ({"eventType": "ended"}, {"eventType": "Ended"}),
        ({"meterValue": []}, {}),
        ({"evse": {"id": 1.0, "connectorId": "2"}}, {"evse": {"id": 1, "connectorId": 2}}),
        (
            {"meterValue": [{"timestamp": "x", "sampledValue": [{"value": "12,5"}]}]},
            {"meterValue": [{"timestamp": "x", "sampledValue": [{"value": 12.5}]}]},
        ),
    ],
)
def test_transaction_events(sent: dict[str, object], read: dict[str, object]) -> None:
    mended, notes = mend(V201, "TransactionEvent", Part.REQUEST, event(**sent))
    assert mended == event(**read)
    assert valid(V201, "TransactionEvent", Part.REQUEST, mended)
    assert notes


def test_makers_own_content_is_left_as_it_is() -> None:
    custom = {"vendorId": " mill ", "spindles": ["", None, "7"]}
    mended, _ = mend(V201, "TransactionEvent", Part.REQUEST, event(customData=custom, x=1))
    assert mended["customData"] == custom
    mended, _ = mend(V16, "DataTransfer", Part.REQUEST, {"vendorId": " mill", "data": " a\x00b "})
    assert mended == {"vendorId": "mill", "data": " a\x00b "}


def test_what_was_given_is_not_changed() -> None:
    given = sample(value=1, phase="")
    before = repr(given)
    mend(V16, "MeterValues", Part.REQUEST, given)
    assert repr(given) == before


def test_a_flood_of_notes_is_cut() -> None:
    _, notes = mend(V16, "BootNotification", Part.REQUEST, boot(**{f"x{n}": 1 for n in range(500)}))
    assert len(notes) == MOST_NOTES


@pytest.mark.parametrize("version", Version)
def test_no_message_of_any_version_raises(version: Version) -> None:
    odd: dict[str, Any] = {
        "connectorId": [None, {}],
        "evse": {"id": []},
        "status": {},
        "meterValue": {"a": [[]]},
        "": "",
    }
    for action in KNOWN[version]:
        for part in Part:
            if not (action in UNANSWERED and part is Part.RESPONSE):
                mended, _ = mend(version, action, part, odd)
                assert "" not in mended
