"""Chargers that are gone, come back, or are others than expected."""

from csms.alarms.kinds import KINDS
from csms.alarms.signs import Begun, Over, Sign
from csms.store.fact import Fact

OF_A_STATION = frozenset(KINDS)


def signs(fact: Fact) -> tuple[Sign, ...]:
    """A lost charger that comes back in time was never an alarm: routers restart at night."""
    station = fact.subject
    match fact.topic:
        case "station.lost":
            reason = {"reason": fact.body.get("reason", "")}
            return (Begun(kind="charger_lost", thing=station, station_id=station, detail=reason),)
        case "station.connected":
            return (Over(frozenset({"charger_lost"}), station),)
        case "station.wrong_serial":
            told = {name: fact.body.get(name) for name in ("serial", "expected")}
            return (Begun(kind="wrong_serial", thing=station, station_id=station, detail=told),)
        case "station.commissioned":
            return (Over(frozenset({"wrong_serial"}), station),)
        case "station.deleted":
            return (Over(OF_A_STATION, None, station),)
    return ()
