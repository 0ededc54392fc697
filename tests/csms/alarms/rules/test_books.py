"""A run that its proof stopped, and the one that went through."""

from datetime import UTC, datetime

from csms.alarms.kinds import KINDS
from csms.alarms.rules import signs_of
from csms.alarms.rules.books import signs
from csms.alarms.signs import Begun, Over
from csms.store.fact import Fact

AT = datetime(2026, 2, 3, 11, tzinfo=UTC)


def test_stopped_and_issued() -> None:
    told = {"period": "2026-01", "reason": "tree: losses of 10.92 % are above the bound of 8 %"}
    refused = Fact(topic="statements.refused", at=AT, site_id="yard", subject="yard", body=told)
    begun = Begun(kind="statements_stopped", thing="statements of yard", detail=told)
    assert signs(refused) == (begun,)
    assert begun in signs_of(refused), "the rule is in the list"
    assert begun.kind in KINDS
    issued = Fact(topic="statements.issued", at=AT, site_id="yard", subject="run_1")
    assert signs(issued) == (Over(frozenset({"statements_stopped"}), "statements of yard"),)
    assert signs(Fact(topic="pool.changed", at=AT, site_id="yard", subject="p")) == ()
