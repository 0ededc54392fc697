"""Our word tables against the enumerations of the official 1.6 schemas."""

from csms.ocpp import vendor
from csms.ocpp.v16 import (
    authorization,
    availability,
    provisioning,
    remote,
    smart_charging,
    transactions,
)
from csms.stations.model import ProfilePurpose, Registration, Verdict
from csms.stations.questions import VendorStatus
from tests.vectors.reader import members


def test_what_stations_may_say_is_known() -> None:
    assert members("v16", "StatusNotification", "status") == set(availability.STATUSES) - {"Occupied"}
    assert members("v16", "StopTransaction", "reason") == set(transactions.REASONS)


def test_what_we_may_say_is_of_the_standard() -> None:
    assert members("v16", "AuthorizeResponse", "status") == set(authorization.VERDICTS.values())
    assert members("v16", "BootNotificationResponse", "status") == set(provisioning.REGISTRATIONS.values())
    assert members("v16", "DataTransferResponse", "status") == set(vendor.STATUSES.values())
    assert members("v16", "SetChargingProfile", "chargingProfilePurpose") == set(
        smart_charging.PURPOSES.values()
    )
    assert members("v16", "TriggerMessage", "requestedMessage") >= set(remote.TRIGGERS.values())


def test_we_have_a_word_for_each_of_ours() -> None:
    assert authorization.VERDICTS.keys() == set(Verdict)
    assert provisioning.REGISTRATIONS.keys() == set(Registration)
    assert vendor.STATUSES.keys() == set(VendorStatus)
    later = {ProfilePurpose.EXTERNAL, ProfilePurpose.PRIORITY, ProfilePurpose.LOCAL_GENERATION}
    assert smart_charging.PURPOSES.keys() == set(ProfilePurpose) - later
    triggers = {*remote.TRIGGERS.values(), *remote.EXTENDED.values()}
    assert triggers == members("v16", "TriggerMessage", "requestedMessage") | members(
        "v16", "ExtendedTriggerMessage", "requestedMessage"
    )
