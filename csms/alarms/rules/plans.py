"""A site whose plan cannot be made, and which has one again."""

from csms.alarms.signs import Begun, Over, Sign
from csms.store.fact import Fact


def signs(fact: Fact) -> tuple[Sign, ...]:
    thing = f"plan of {fact.subject}"
    if fact.topic == "plan.failed":
        return (Begun(kind="no_plan", thing=thing, detail={"problem": str(fact.body.get("fault", ""))}),)
    if fact.topic == "plan.made_again":
        return (Over(frozenset({"no_plan"}), thing),)
    return ()
