"""The plan's reasons in words. Times are the site's own clock; circuits are called by their names."""

from collections.abc import Mapping
from datetime import datetime, tzinfo

from csms.power.installation import Line
from csms.power.planner.forecast import Basis
from csms.power.planner.gather import Left
from csms.power.planner.need import Source
from csms.power.planner.schedule import CarSchedule, Reason, Schedule, Shortfall, Why

LEFT = {
    Left.FULL: "The car does not ask for energy: it is full, or will not say.",
    Left.UNREACHABLE: "Its charger cannot be told anything now, so it is not planned; what it may be drawing "
    "is kept free.",
    Left.LEAVING: "It leaves within this quarter of an hour and charges as without a plan.",
    Left.GONE_BY: "Its departure is over; it charges as without a plan.",
}
BASIS = {
    Basis.HISTORY: "from what was measured at this hour before",
    Basis.LARGEST: "the largest load so far, as this hour was not measured often enough yet",
    Basis.CONFIGURED: "the configured worst case, as too little was measured yet",
}
FROM = {
    Source.PERSON: "told for this charge",
    Source.CAR: "told by the car",
    Source.MEMBER: "the member's usual need",
}


def reason_text(reason: Reason, names: Mapping[str, str], zone: tzinfo) -> str:
    """Why a stretch is as it is."""
    where = _where(reason.circuit, reason.line, names)
    until = "" if reason.until is None else _clock(reason.until, zone)
    return {
        Why.CHEAP: "Charges in its cheapest hours.",
        Why.NO_CHEAPER: "Charges: no hour before its departure is cheaper.",
        Why.NEEDS_DEAR: "Charges at a dearer hour: the cheap ones are not enough, or are taken.",
        Why.CIRCUIT: f"Charges with what {where} leaves.",
        Why.EAGER: "Charges as soon as it can: nobody has told by when it is needed.",
        Why.WAITS_CHEAPER: f"Waits for the cheaper hours from {until}.",
        Why.WAITS_ROOM: f"Waits until {until}: {where} is taken by others.",
        Why.WAITS_TURN: f"Waits for its turn at {until}; there is time.",
        Why.NO_ROOM: f"Gets nothing: {where} is full.",
        Why.MET: "Has what it needs by then.",
    }[reason.why]


def shortfall_text(shortfall: Shortfall, names: Mapping[str, str]) -> str:
    """What will be missing, and what is to blame."""
    missing = f"{shortfall.energy_wh / 1000:.1f} kWh will be missing at its departure"
    if shortfall.circuit is None:
        return f"{missing}: the car and its charger cannot take more in the time there is."
    return f"{missing}: {_where(shortfall.circuit, shortfall.line, names)} is full."


def assumptions(car: CarSchedule) -> list[str]:
    """What was assumed of a car, as nobody told it."""
    found = []
    if car.goal.energy_from is Source.ASSUMED:
        found.append(f"Nobody told its energy: {car.goal.energy_wh / 1000:g} kWh are assumed.")
    if car.goal.departure is None:
        found.append("Nobody told its departure: it charges as soon as it can and is not held back.")
    return found


def plan_assumptions(plan: Schedule, names: Mapping[str, str], zone: tzinfo) -> list[str]:
    """What was assumed of the site."""
    found = []
    if plan.currency is None:
        found.append("No prices are known: every hour counts the same.")
    elif plan.prices_until is None:
        found.append("No prices are known from now on: every hour counts the same.")
    elif plan.prices_until < plan.ends_at:
        until = _clock(plan.prices_until, zone)
        found.append(f"Prices are known until {until}; after that every hour counts as the dearest of them.")
    for circuit, basis in plan.basis.items():
        if basis is not Basis.HISTORY:
            found.append(f"Base load of {names.get(circuit, circuit)}: {BASIS[basis]}.")
    if not plan.complete:
        found.append("Time ran out before the best plan was found; this one keeps every limit all the same.")
    return found


def _where(circuit: str | None, line: Line | None, names: Mapping[str, str]) -> str:
    name = names.get(circuit or "", circuit or "")
    return f"the cap of {name}" if line is None else f"{line} of {name}"


def _clock(at: datetime, zone: tzinfo) -> str:
    return f"{at.astimezone(zone):%H:%M}"
