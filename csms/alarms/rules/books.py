"""A month whose statements were stopped by their proof: losses above the bound, a price that is missing."""

from csms.alarms.signs import Begun, Over, Sign
from csms.store.fact import Fact


def signs(fact: Fact) -> tuple[Sign, ...]:
    thing = f"statements of {fact.site_id}"
    if fact.topic == "statements.refused":
        told = {name: str(fact.body.get(name, "")) for name in ("period", "reason")}
        return (Begun(kind="statements_stopped", thing=thing, detail=told),)
    if fact.topic == "statements.issued":
        return (Over(frozenset({"statements_stopped"}), thing),)
    return ()
