"""Our word tables against the enumerations of the official 2.1 schemas."""

from csms.ocpp.v21 import limits, remote, security, smart_charging, transactions
from csms.stations.commands import TriggerKind
from csms.stations.model import ProfileKind, ProfilePurpose
from tests.vectors.reader import members, properties


def test_what_stations_may_say_is_known() -> None:
    assert members("v21", "TransactionEventRequest", "stoppedReason") == set(transactions.REASONS)
    profile = "ReportChargingProfilesRequest"
    assert members("v21", profile, "chargingProfilePurpose") == set(smart_charging.PURPOSE_WORDS)
    assert members("v21", profile, "chargingProfileKind") == set(smart_charging.KIND_WORDS)


def test_what_we_may_say_is_of_the_standard() -> None:
    assert members("v21", "TriggerMessageRequest", "requestedMessage") == set(remote.TRIGGERS.values())
    chain = members("v21", "GetCertificateChainStatusResponse", "status")
    assert chain == set(security.STATUSES.values())


def test_we_have_a_word_for_each_of_ours() -> None:
    assert smart_charging.PURPOSES.keys() == set(ProfilePurpose)
    assert smart_charging.KINDS.keys() == set(ProfileKind)
    assert remote.TRIGGERS.keys() == set(TriggerKind) - {TriggerKind.DIAGNOSTICS}


def test_every_value_of_a_dynamic_schedule_has_its_name() -> None:
    assert properties("v21", "UpdateDynamicScheduleRequest", "scheduleUpdate") == set(limits.VALUES.values())
