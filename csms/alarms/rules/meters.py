"""Building meters that fall silent."""

from csms.alarms.signs import Begun, Over, Sign
from csms.store.fact import Fact


def signs(fact: Fact) -> tuple[Sign, ...]:
    if fact.topic == "meter.silent":
        told = {name: fact.body[name] for name in ("problem", "last_at") if fact.body.get(name)}
        return (Begun(kind="meter_silent", thing=fact.subject, circuit_id=fact.subject, detail=told),)
    if fact.topic == "meter.back":
        return (Over(frozenset({"meter_silent"}), fact.subject),)
    return ()
