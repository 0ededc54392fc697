"""Our word tables against the enumerations of the official 2.0.1 schemas."""

from csms.ocpp import vendor
from csms.ocpp.v201 import (
    authorization,
    availability,
    provisioning,
    remote,
    smart_charging,
    transactions,
)
from csms.stations.model import ProfilePurpose, Registration, TokenKind, Verdict
from csms.stations.questions import VendorStatus
from tests.vectors.reader import members


def test_what_stations_may_say_is_known() -> None:
    assert members("v201", "StatusNotificationRequest", "connectorStatus") == set(availability.STATUSES)
    assert members("v201", "TransactionEventRequest", "eventType") == set(transactions.STEPS)
    assert members("v201", "TransactionEventRequest", "chargingState") == set(transactions.STATES)
    assert members("v201", "TransactionEventRequest", "stoppedReason") == set(transactions.REASONS)
    assert members("v201", "AuthorizeRequest", "type") == set(authorization.KINDS)
    profile = "ReportChargingProfilesRequest"
    assert members("v201", profile, "chargingProfilePurpose") == set(smart_charging.PURPOSE_WORDS)
    assert members("v201", profile, "chargingProfileKind") == set(smart_charging.KIND_WORDS)


def test_what_we_may_say_is_of_the_standard() -> None:
    assert members("v201", "AuthorizeResponse", "status") >= set(authorization.VERDICTS.values())
    assert members("v201", "RequestStartTransactionRequest", "type") >= set(authorization.KIND_WORDS.values())
    assert members("v201", "BootNotificationResponse", "status") == set(provisioning.REGISTRATIONS.values())
    assert members("v201", "DataTransferResponse", "status") == set(vendor.STATUSES.values())
    assert members("v201", "TriggerMessageRequest", "requestedMessage") >= set(remote.TRIGGERS.values())


def test_we_have_a_word_for_each_of_ours() -> None:
    assert authorization.VERDICTS.keys() == set(Verdict)
    assert authorization.KIND_WORDS.keys() == set(TokenKind)
    assert provisioning.REGISTRATIONS.keys() == set(Registration)
    assert vendor.STATUSES.keys() == set(VendorStatus)
    later = {ProfilePurpose.PRIORITY, ProfilePurpose.LOCAL_GENERATION}
    assert smart_charging.PURPOSES.keys() == set(ProfilePurpose) - later
    assert set(remote.TRIGGERS.values()) == members("v201", "TriggerMessageRequest", "requestedMessage")
