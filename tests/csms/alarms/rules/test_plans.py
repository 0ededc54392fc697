"""A plan that cannot be made, and one that can again."""

from datetime import UTC, datetime

from csms.alarms.rules import signs_of
from csms.alarms.rules.plans import signs
from csms.alarms.signs import Begun, Over
from csms.store.fact import Fact

AT = datetime(2026, 11, 2, 11, tzinfo=UTC)


def test_failed_and_made_again() -> None:
    failed = Fact(topic="plan.failed", at=AT, site_id="yard", subject="yard", body={"fault": "it died"})
    begun = Begun(kind="no_plan", thing="plan of yard", detail={"problem": "it died"})
    assert signs(failed) == (begun,)
    assert begun in signs_of(failed), "the rule is in the list"
    again = Fact(topic="plan.made_again", at=AT, site_id="yard", subject="yard")
    assert signs(again) == (Over(frozenset({"no_plan"}), "plan of yard"),)
    assert signs(Fact(topic="site.changed", at=AT, subject="yard")) == ()
