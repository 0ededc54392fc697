"""Every kind has its words, and every rule raises one that exists."""

from csms.alarms.alarm import Severity
from csms.alarms.kinds import KINDS
from csms.alarms.rules.faults import FROM_STATUS
from csms.alarms.rules.power import KIND_BY_NOTICE
from csms.power.steering.notices import NoticeKind


def test_every_kind_says_what_to_do() -> None:
    for name, kind in KINDS.items():
        assert len(name) <= 40, "it has to fit its column"
        assert kind.title[0].isupper(), name
        assert kind.what_to_do.endswith("."), name


def test_what_can_hurt_is_urgent_and_sends_for_an_electrician() -> None:
    for name in ("ground_fault", "over_current", "contactor", "self_test_failed"):
        assert KINDS[name].severity is Severity.URGENT
        assert "electrician" in KINDS[name].what_to_do


def test_rules_raise_what_there_is() -> None:
    assert set(KINDS) >= FROM_STATUS
    assert set(KIND_BY_NOTICE.values()) <= set(KINDS)
    assert set(KIND_BY_NOTICE) <= {kind.value for kind in NoticeKind}
