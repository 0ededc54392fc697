"""What each bay should have: demands out of bays, shared by the allocator, and whose turn it is."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from csms.power.installation import Line
from csms.power.sharing.allocator import Allocation, allocate
from csms.power.sharing.currents import Network
from csms.power.sharing.demand import BoundKind, Demand, Load, usual_connection
from csms.power.steering.bay import Bay
from csms.power.steering.moves import Better, choices, chosen, find_move
from csms.power.steering.planned import SitePlan
from csms.power.steering.steady import steady
from csms.power.steering.timing import Timing
from csms.power.steering.turns import MIN_ON_S, Contender, earnings
from csms.units import LOWEST_CURRENT_A

FULL_PRIORITY = -1_000_000
BEGUN_PRIORITY = 100_000
HELD_PRIORITY = 1_000_000
RESUME_WITH_A = 1.0
"""More than its minimum must be free before a car starts where the building's load is measured: else the
next kettle would stop it again."""


@dataclass(frozen=True, slots=True)
class Targets:
    """The allocation, and the bays with their target, reason and turn. `better`: a car that is worth
    being put on another line."""

    allocation: Allocation
    bays: tuple[Bay, ...]
    better: Better | None = None


def keeps_turn(bay: Bay, now_s: float, rotation_s: float) -> bool:
    """Whether the car runs and its turn is not over."""
    return bay.turn.runs_for_less_than(rotation_s, now_s)


def settle_turns(
    bays: Sequence[Bay], network: Network, now_s: float, seconds: float, timing: Timing
) -> list[Bay]:
    """The bays with what each was owed more in the last `seconds`, while somebody had to wait."""
    full = {
        bay.why.circuit
        for bay in bays
        if bay.charge
        and bay.charge.wants
        and bay.target_a == 0
        and bay.why
        and bay.why.kind is BoundKind.WAITING
    }
    if not full or seconds <= 0:
        return list(bays)
    feeds = {circuit.id: circuit.fed_from for circuit in network.installation.circuits}
    those: list[tuple[Bay, Contender]] = []
    for bay in bays:
        at: str | None = bay.wiring.circuit
        while at is not None and at not in full:
            at = feeds[at]
        if at is not None and bay.charge is not None and bay.charge.wants and bay.promise.reachable:
            those.append((bay, Contender(at, bay.charge.weight, bay.received_a(now_s))))
    earned = earnings([contender for _, contender in those], seconds)
    after = {
        bay.evse: replace(
            bay, turn=bay.turn.earned(more, timing.rotation_s * bay.wiring.max_current_a / contender.weight)
        )
        for (bay, contender), more in zip(those, earned, strict=True)
    }
    return [after.get(bay.evse, bay) for bay in bays]


def demand(bay: Bay, network: Network, now_s: float, timing: Timing, metered: bool = False) -> Demand | None:
    """What the bay asks for; None: nothing, or nothing that could be commanded.

    `metered`: the building's load is measured somewhere, and so room may come and go.
    """
    charge = bay.charge
    if charge is None or not bay.obeys:
        return None
    beneath = bay.promise.beneath(now_s, timing.ahead_s)
    if beneath == 0 and bay.turn.rests(now_s) and bay.learned.zero is not False:
        return None
    wiring = bay.wiring
    maximum, maximum_is = wiring.max_current_a, BoundKind.STATION
    if bay.derating.max_a is not None:
        maximum = min(maximum, bay.derating.max_a)
    for limit in (charge.max_a, bay.usage.want_a):
        if limit is not None and limit < maximum:
            maximum, maximum_is = limit, BoundKind.CAR_MAXIMUM
    minimum, priority = charge.min_a, charge.priority
    if not charge.wants:
        # A car that is full keeps the minimum, so that it can warm itself, while nobody waits.
        maximum, priority = minimum, FULL_PRIORITY
    elif bay.waking.awaited:
        maximum = minimum
    elif bay.turn.runs_for_less_than(min(MIN_ON_S, timing.rotation_s), now_s):
        priority += BEGUN_PRIORITY
    if not bay.promise.offered(now_s) and metered and maximum >= minimum + RESUME_WITH_A:
        minimum += RESUME_WITH_A
    if beneath > 0:
        # It may draw this whatever we say: to plan with less would be to give it away twice.
        minimum, maximum = max(charge.min_a, beneath), max(maximum, beneath)
    if beneath > 0 or bay.learned.zero is False:
        priority = HELD_PRIORITY
    load = bay.load(network.installation.system, 0.0)
    return Demand(
        id=str(bay.evse),
        circuit=load.circuit,
        lines=load.lines,
        connection=load.connection,
        min_a=minimum,
        max_a=max(minimum, maximum),
        weight=charge.weight,
        priority=priority,
        waiting_s=_owed_s(bay, now_s),
        energy_served_wh=charge.energy_wh,
        keeps_turn=keeps_turn(bay, now_s, timing.rotation_s) and charge.wants,
        step_a=wiring.step_a,
        held=priority == HELD_PRIORITY,
        share_class=charge.priority,
        connected_s=now_s - charge.started_s,
        maximum_is=maximum_is,
        choices=choices(bay, network.installation.system, now_s),
    )


def _owed_s(bay: Bay, now_s: float) -> float:
    """What it is owed, as seconds at the lowest current; a thousandth of its wait decides between equals."""
    waiting_since = bay.turn.waiting_since_s
    waited = 0.0 if waiting_since is None else now_s - waiting_since
    return round(bay.turn.owed_as) / LOWEST_CURRENT_A + waited / 1000


def find_targets(
    bays: Sequence[Bay],
    network: Network,
    base_a: Mapping[str, Mapping[Line, float]],
    now_s: float,
    timing: Timing,
    metered: bool = False,
    plan: SitePlan | None = None,
    *,
    may_move: bool = False,
) -> Targets:
    """Share what the base load and the bays that cannot be commanded leave. `may_move`: look for a car
    that were better on another line."""
    demands: list[Demand] = []
    idle: list[Demand] = []
    reserved: list[Load] = []
    for bay in bays:
        asked = demand(bay, network, now_s, timing, metered)
        if asked is not None:
            if plan is not None:
                asked = replace(asked, plan_a=_planned_a(bay, plan, now_s))
            (idle if asked.priority == FULL_PRIORITY else demands).append(asked)
        elif (counted := bay.promise.counted(now_s, timing.ahead_s)) > 0:
            reserved.append(bay.load(network.installation.system, counted))
    allocation = allocate(network, demands, base_a=base_a, reserved=reserved)
    if allocation.lines:
        demands = _on_lines(demands, bays, allocation)
        allocation = replace(
            allocate(network, demands, base_a=base_a, reserved=reserved), lines=allocation.lines
        )
    better = None
    if may_move:

        def share(others: Sequence[Demand]) -> Allocation:
            return allocate(network, others, base_a=base_a, reserved=reserved)

        better = find_move(bays, demands, allocation, share, network.installation.system, now_s)
    offered = {str(bay.evse): bay.promise.offered(now_s) or 0.0 for bay in bays if bay.charge is not None}
    kept = steady(allocation, demands, offered, network, base_a, reserved)
    allocation = replace(allocation, offers_a=kept)
    if idle:
        allocation = _with_idle(allocation, demands, idle, network, base_a, reserved)
    aimed = chosen([_aimed(bay, allocation, now_s) for bay in bays], allocation.lines)
    return Targets(allocation, tuple(_probed(bay, allocation, network, now_s) for bay in aimed), better)


def _on_lines(demands: Sequence[Demand], bays: Sequence[Bay], allocation: Allocation) -> list[Demand]:
    """The demands on the lines that were chosen, as far as the stations are trusted with them."""
    found = {str(bay.evse): bay for bay in bays if str(bay.evse) in allocation.lines}
    put = {
        key: bay.put_on(bay.wiring.rotation.index(allocation.lines[key]) + 1).lines
        for key, bay in found.items()
    }
    return [replace(d, lines=put[d.id], choices=()) if d.id in put else d for d in demands]


def _probed(bay: Bay, allocation: Allocation, network: Network, now_s: float) -> Bay:
    """A car that takes less than it could may show whether it takes more by now, where that is taken from
    nobody. Where others want more it shows it all the same, by taking all of the margin above its want."""
    usage = bay.usage.probe(now_s)
    if usage is bay.usage or bay.charge is None:
        return bay
    feeds = {circuit.id: circuit.fed_from for circuit in network.installation.circuits}
    way: set[str] = set()
    at: str | None = bay.wiring.circuit
    while at is not None:
        way.add(at)
        at = feeds[at]
    wanted = any(
        bound.circuit in way and (bound.line is None or bound.line in bay.lines)
        for bound in allocation.bounds.values()
    )
    return bay if wanted else replace(bay, usage=usage)


def _planned_a(bay: Bay, plan: SitePlan, now_s: float) -> float | None:
    """A that the car may have by the plan; None: it says nothing, as of a full car."""
    charge = bay.charge
    if charge is None or not charge.wants:
        return None
    return plan.most_a(bay.evse, charge.transaction, charge.started_s, charge.energy_wh, now_s)


def _with_idle(
    first: Allocation,
    demands: Sequence[Demand],
    idle: Sequence[Demand],
    network: Network,
    base_a: Mapping[str, Mapping[Line, float]],
    reserved: Sequence[Load],
) -> Allocation:
    """Cars that do not ask keep their minimum only in what all others leave: amperes that lie ready for a
    full car would else be missing to one that charges."""
    given = [
        Load(d.circuit, d.lines, d.connection or usual_connection(network.installation.system, d.lines), amps)
        for d in demands
        if (amps := first.offers_a.get(d.id, 0.0)) > 0
    ]
    rest = allocate(network, idle, base_a=base_a, reserved=[*reserved, *given])
    return Allocation(
        offers_a={**first.offers_a, **rest.offers_a},
        paused=(*first.paused, *rest.paused),
        bounds={**first.bounds, **rest.bounds},
        line_a=rest.line_a,
        lines={**first.lines, **rest.lines},
    )


def _aimed(bay: Bay, allocation: Allocation, now_s: float) -> Bay:
    key = str(bay.evse)
    if key not in allocation.bounds:
        return bay
    target = allocation.offers_a.get(key, 0.0)
    turn = bay.turn
    offered = bool(bay.promise.offered(now_s))
    if target > 0 and turn.running_since_s is None and offered:
        turn = turn.runs(now_s)
    elif target == 0 and (turn.waiting_since_s is None or turn.running_since_s is not None):
        turn = turn.waits(now_s, was_offered=offered and bay.charge is not None and bay.charge.wants)
    why = allocation.bounds[key]
    if target == bay.target_a and turn is bay.turn and why == bay.why:
        return bay
    return replace(bay, target_a=target, why=why, turn=turn)
