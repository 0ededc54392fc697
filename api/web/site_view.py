"""What the page Site shows, out of what the services and the power controller say. Pure."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from api.web.order import natural
from csms.power.installation import LINES, Line
from csms.power.sharing.demand import Bound, BoundKind
from csms.power.steering.picture import BayShown, BayState, CircuitShown, SiteShown
from csms.power.steering.remarks import remarks
from csms.sessions.session import Session
from csms.sites.model import Circuit
from csms.stations.model import EvseStatus
from csms.stations.record import Evse, Station

OVER_A = 0.05
"""A line counts as over its limit only beyond what rounding explains."""


@dataclass(frozen=True, slots=True)
class LineGauge:
    """One line of one circuit. The percentages are of the limit, for the width of the bars."""

    name: str
    base_a: float
    cars_a: float
    limit_a: float
    base_percent: float
    cars_percent: float
    over: bool


@dataclass(frozen=True, slots=True)
class CircuitNode:
    """A circuit with what it feeds. `meter`: what is known of its building meter, "" without one; `cap`:
    less power that was asked for from outside, "" when nobody did."""

    name: str
    gauges: tuple[LineGauge, ...]
    meter: str
    feeds: tuple["CircuitNode", ...]
    cap: str = ""


@dataclass(frozen=True, slots=True)
class BayRow:
    """An EVSE as a bay of the garage. `tone` is one of good, wait, bad, idle.

    `lines`: those of the supply that the car uses. `remarks`: what is odd about the charger. Empty texts
    where there is nothing to say.
    """

    name: str
    tone: str
    state: str
    who: str
    lines: str
    offer: str
    drawn: str
    energy: str
    why: str
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Totals:
    """Counts for the line under the title."""

    charging: int
    waiting: int
    connected: int
    stations: int


def totals(stations: Sequence[Station], bays: Iterable[BayRow]) -> Totals:
    """How many bays charge and wait, and how many chargers are connected."""
    states = [bay.state for bay in bays]
    return Totals(
        charging=states.count(STATES[BayState.CHARGING][1]),
        waiting=states.count(STATES[BayState.WAITING][1]),
        connected=sum(station.connected for station in stations),
        stations=len(stations),
    )


def tree(circuits: Sequence[Circuit], shown: SiteShown | None, zone: str = "UTC") -> tuple[CircuitNode, ...]:
    """The circuits as they feed each other, the supply first. `zone`: the site's own clock."""
    live = {circuit.id: circuit for circuit in shown.circuits} if shown else {}
    below: dict[str | None, list[Circuit]] = {}
    for circuit in circuits:
        below.setdefault(circuit.fed_from, []).append(circuit)

    def nodes(parent: str | None) -> tuple[CircuitNode, ...]:
        return tuple(
            CircuitNode(
                circuit.name,
                _gauges(circuit, live.get(circuit.id)),
                _meter(live.get(circuit.id)),
                nodes(circuit.id),
                _cap(live.get(circuit.id), zone),
            )
            for circuit in sorted(below.get(parent, ()), key=lambda c: natural(c.name))
        )

    return nodes(None)


def _gauges(circuit: Circuit, live: CircuitShown | None) -> tuple[LineGauge, ...]:
    gauges = []
    for line, limit_a in zip(LINES, circuit.limit_a, strict=True):
        if limit_a <= 0:
            continue
        base_a = live.base_a.get(line, 0.0) if live else 0.0
        cars_a = live.drawn_a.get(line, 0.0) if live else 0.0
        base_percent = min(100.0, 100 * base_a / limit_a)
        cars_percent = min(100.0 - base_percent, 100 * cars_a / limit_a)
        over = base_a + cars_a > limit_a + OVER_A
        gauges.append(LineGauge(line.value, base_a, cars_a, limit_a, base_percent, cars_percent, over))
    return tuple(gauges)


def _meter(live: CircuitShown | None) -> str:
    if live is None or live.meter_fresh is None:
        return ""
    return "building meter live" if live.meter_fresh else "building meter silent, worst case assumed"


def _cap(live: CircuitShown | None, zone: str) -> str:
    if live is None or live.asked is None:
        return ""
    until = live.asked.until.astimezone(ZoneInfo(zone))
    why = f": {live.asked.reason}" if live.asked.reason else ""
    return f"at most {live.asked.cap_w / 1000:g} kW until {until:%d %b %H:%M}{why}"


STATES: Mapping[BayState, tuple[str, str]] = {
    BayState.EMPTY: ("idle", "free"),
    BayState.CHARGING: ("good", "charging"),
    BayState.WAITING: ("wait", "waiting"),
    BayState.FULL: ("idle", "plugged in, asks for nothing"),
    BayState.UNREACHABLE: ("bad", "not connected"),
    BayState.REFUSING: ("bad", "refuses its limit"),
    BayState.IGNORING: ("bad", "draws more than offered"),
}

STATUSES: Mapping[EvseStatus, tuple[str, str]] = {
    EvseStatus.PREPARING: ("wait", "plugged in, no card yet"),
    EvseStatus.OCCUPIED: ("wait", "plugged in, no card yet"),
    EvseStatus.FINISHING: ("idle", "done, still plugged in"),
    EvseStatus.RESERVED: ("idle", "reserved"),
    EvseStatus.UNAVAILABLE: ("bad", "out of use"),
    EvseStatus.FAULTED: ("bad", "fault"),
}


def bay_rows(
    stations: Iterable[Station],
    evses: Iterable[Evse],
    shown: SiteShown | None,
    running: Iterable[Session],
    names: Mapping[str, str],
    refusals: Mapping[tuple[str, int], str],
    problems: Mapping[str, str] | None = None,
) -> tuple[BayRow, ...]:
    """One row per EVSE, in the order of the stations' names. `names`: of circuits and members.

    `refusals`: why the card last held to an EVSE was refused, where nothing has happened since.
    `problems`: settings that stations did not take.
    """
    capped = {circuit.id: circuit.cap_w for circuit in shown.circuits} if shown else {}
    live = {(bay.evse.station_id, bay.evse.evse_id): bay for bay in shown.bays} if shown else {}
    sessions = {(s.station_id, s.evse or 1): s for s in running}
    told: dict[str, list[Evse]] = {}
    for evse in evses:
        if evse.number > 0:
            told.setdefault(evse.station_id, []).append(evse)
    rows = []
    for station in sorted(stations, key=lambda s: natural(s.label)):
        parts = told.get(station.id) or [Evse(station_id=station.id, number=1)]
        for evse in parts:
            key = (station.id, evse.number)
            label = station.label if len(parts) == 1 else f"{station.label} / {evse.number}"
            row = _row(label, station, evse, live.get(key), sessions.get(key), names, capped)
            if problem := (problems or {}).get(station.id):
                row = replace(row, remarks=(*row.remarks, problem))
            if key in refusals and key not in sessions:
                row = _refused(row, refusals[key].replace(station.id, station.label))
            rows.append(row)
    return tuple(rows)


def _row(
    label: str,
    station: Station,
    evse: Evse,
    bay: BayShown | None,
    session: Session | None,
    names: Mapping[str, str],
    capped: Mapping[str, float | None],
) -> BayRow:
    if not station.connected:
        tone, state = STATES[BayState.UNREACHABLE]
    elif bay is not None and bay.state is not BayState.EMPTY:
        tone, state = STATES[bay.state]
    else:
        tone, state = STATUSES.get(evse.status, STATES[BayState.EMPTY])
    if evse.error:
        state = f"{state} ({evse.error})"
    drawn_a = bay.measured_a if bay is not None else None
    offer_a = bay.offer_a if bay is not None and session is not None else None
    return BayRow(
        name=label,
        tone=tone,
        state=state,
        who=_who(session, names),
        lines=_lines(bay.lines) if bay and session else "",
        offer=f"{offer_a:.1f} A" if offer_a is not None else "",
        drawn=f"{drawn_a:.1f} A" if drawn_a else "",
        energy=kilowatt_hours(session.energy_wh) if session else "",
        why=reason(bay.why, names, capped) if bay and bay.why and session else "",
        remarks=remarks(bay) if bay else (),
    )


def _lines(lines: Sequence[Line]) -> str:
    """In their order; a car on all three does not need each of them named."""
    return "L1 to L3" if len(lines) == len(LINES) else " ".join(sorted(line.value for line in lines))


def _refused(row: BayRow, why: str) -> BayRow:
    """A plugged-in car whose card was refused is not one that has shown none."""
    if row.state != STATUSES[EvseStatus.PREPARING][1]:
        return row
    return replace(row, tone="bad", state="card refused", why=why)


def _who(session: Session | None, names: Mapping[str, str]) -> str:
    if session is None:
        return ""
    if session.member_id:
        return names.get(session.member_id, session.member_id)
    return f"unknown card {session.token_text}" if session.token_text else "no card"


def reason(bound: Bound, names: Mapping[str, str], capped: Mapping[str, float | None] | None = None) -> str:
    """Why an offer is not higher, or why there is none. `capped`: W that circuits may carry now."""
    cap_w = (capped or {}).get(bound.circuit or "")
    limit = f" of {cap_w / 1000:g} kW" if cap_w is not None else ""
    where = names.get(bound.circuit or "", bound.circuit or "")
    line = f" {bound.line.value}" if bound.line else ""
    match bound.kind:
        case BoundKind.CAR_MAXIMUM:
            return "as much as the car takes"
        case BoundKind.STATION:
            return "as much as the charger can give"
        case BoundKind.PLAN:
            return "as planned"
        case BoundKind.CIRCUIT_LINE:
            return f"{where}{line} is full"
        case BoundKind.CAP:
            return f"{where} is at its power limit{limit}"
        case BoundKind.UNBALANCE:
            return f"more would load the lines of {where} too unequally"
        case BoundKind.WAITING:
            if where and bound.line is None:
                return f"waits: {where} is at its power limit{limit}"
            return (
                f"waits for its turn: {where}{line} has no room for 6 A more"
                if where
                else "waits for its turn"
            )
        case BoundKind.LINE_MISSING:
            return f"{where}{line} does not exist here"
        case BoundKind.MAXIMUM_TOO_LOW:
            return "may get less than the 6 A that a car needs"


def kilowatt_hours(energy_wh: int) -> str:
    """Energy for people: 12.34 kWh."""
    return f"{energy_wh / 1000:.2f} kWh"
