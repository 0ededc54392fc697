"""What the sharing of the supply notices and cannot mend by itself."""

from collections.abc import Mapping

from csms.alarms.signs import Begun, Over, Sign
from csms.store.fact import Fact

KIND_BY_NOTICE: Mapping[str, str] = {
    "offer_ignored": "limit_ignored",
    "lowering_refused": "lowering_refused",
    "forgets_limits": "limits_forgotten",
    "fallback_not_stored": "fallback_not_stored",
    "over_limit": "over_limit",
    "clock_off": "clock_off",
    "derated": "over_temperature",
}
"""By `power.<notice>`; `power_over.<notice>` is its end. Others are for the page only."""


def signs(fact: Fact) -> tuple[Sign, ...]:
    topic, _, notice = fact.topic.partition(".")
    kind = KIND_BY_NOTICE.get(notice)
    if kind is None or topic not in ("power", "power_over"):
        return ()
    body = fact.body
    thing = fact.subject if body.get("line") is None else f"{fact.subject}/{body['line']}"
    # Heat that we see by the current is another observation than the charger's own word for it.
    thing = f"{thing}/seen" if notice == "derated" else thing
    if topic == "power_over":
        return (Over(frozenset({kind}), thing),)
    detail = {} if body.get("line") is None else {"line": body["line"]}
    where = {"station_id": body.get("station"), "evse": body.get("evse"), "circuit_id": body.get("circuit")}
    return (Begun(kind=kind, thing=thing, detail=detail, **where),)
