"""What is kept of what, and the facts of it."""

from datetime import UTC, datetime

from csms.ocpp.adapter import VERSIONS, adapter_for
from csms.stations.encoding import plain
from csms.stations.events import EVENTS
from csms.stations.questions import QUESTIONS
from csms.stations.told.kinds import KEPT, QUIET, fact_of, number_of, topic_of
from csms.stations.words.firmware import FirmwareReported
from csms.stations.words.limits import LimitReported
from csms.stations.words.monitoring import StreamReported
from csms.stations.words.security import SecurityEventReported


def test_every_kind_is_kept_under_a_name_of_its_own_that_fits() -> None:
    assert len(set(KEPT.values())) == len(KEPT)
    assert all(len(kind) <= 40 for kind in KEPT.values())
    assert KEPT.keys() <= {*EVENTS, *QUESTIONS}
    assert KEPT.keys() >= QUIET


def test_what_is_kept_comes_from_stations() -> None:
    heard = {kind for version in VERSIONS for kind in adapter_for(version).inbound_actions.values()}
    assert KEPT.keys() <= heard


def test_the_topic_of_a_fact() -> None:
    assert topic_of(FirmwareReported) == "station.firmware"
    assert topic_of(StreamReported) is None
    assert all(len(topic_of(kind) or "") <= 40 for kind in KEPT)


def test_a_security_event_is_what_alarms_look_for() -> None:
    event = SecurityEventReported("TamperDetectionActivated", datetime(2026, 3, 2, tzinfo=UTC), "lid")
    assert topic_of(type(event)) == "station.security"
    body = plain(event)
    assert fact_of(event, body) == {"told": body, "type": "TamperDetectionActivated", "info": "lid"}


def test_the_numbers_of_a_word() -> None:
    assert number_of(LimitReported("SO", 2), "evse") == 2
    assert number_of(LimitReported("SO"), "evse") is None
    assert number_of(FirmwareReported("idle", 7), "request_id") == 7
    assert number_of(FirmwareReported("idle", 7), "evse") is None
