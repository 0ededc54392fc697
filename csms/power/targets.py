"""What each bay should have: demands out of bays, shared by the allocator, and whose turn it is."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from csms.power.allocator import Allocation, allocate
from csms.power.bay import Bay, Turn
from csms.power.currents import Network
from csms.power.demand import BoundKind, Demand, Load
from csms.power.installation import Line
from csms.power.timing import Timing

FULL_PRIORITY = -1_000_000
HELD_PRIORITY = 1_000_000


@dataclass(frozen=True, slots=True)
class Targets:
    """The allocation, and the bays with their target, reason and turn."""

    allocation: Allocation
    bays: tuple[Bay, ...]


def keeps_turn(bay: Bay, now_s: float, rotation_s: float) -> bool:
    """Whether the car runs and its turn is not over."""
    since = bay.turn.running_since_s
    return since is not None and now_s - since < rotation_s


def demand(bay: Bay, network: Network, now_s: float, timing: Timing) -> Demand | None:
    """What the bay asks for; None: nothing, or nothing that could be commanded."""
    charge = bay.charge
    if charge is None or not bay.obeys:
        return None
    wiring = bay.wiring
    maximum, maximum_is = wiring.max_current_a, BoundKind.STATION
    for limit in (charge.max_a, bay.usage.want_a):
        if limit is not None and limit < maximum:
            maximum, maximum_is = limit, BoundKind.CAR_MAXIMUM
    minimum, priority = charge.min_a, charge.priority
    if not charge.wants:
        # A car that is full keeps the minimum, so that it can warm itself, while nobody waits.
        maximum, priority = minimum, FULL_PRIORITY
    beneath = bay.promise.beneath(now_s, timing.ahead_s)
    if beneath > 0:
        # It may draw this whatever we say: to plan with less would be to give it away twice.
        minimum, maximum = max(minimum, beneath), max(maximum, beneath)
        priority = HELD_PRIORITY
    waiting = bay.turn.waiting_since_s
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
        waiting_s=0.0 if waiting is None else now_s - waiting,
        energy_served_wh=charge.energy_wh,
        keeps_turn=keeps_turn(bay, now_s, timing.rotation_s) and charge.wants,
        step_a=wiring.step_a,
        maximum_is=maximum_is,
    )


def find_targets(
    bays: Sequence[Bay],
    network: Network,
    base_a: Mapping[str, Mapping[Line, float]],
    now_s: float,
    timing: Timing,
) -> Targets:
    """Share what the base load and the bays that cannot be commanded leave."""
    demands: dict[str, Demand] = {}
    reserved: list[Load] = []
    for bay in bays:
        asked = demand(bay, network, now_s, timing)
        if asked is not None:
            demands[asked.id] = asked
        elif (counted := bay.promise.counted(now_s, timing.ahead_s)) > 0:
            reserved.append(bay.load(network.installation.system, counted))
    allocation = allocate(network, list(demands.values()), base_a=base_a, reserved=reserved)
    return Targets(allocation, tuple(_aimed(bay, allocation, now_s) for bay in bays))


def _aimed(bay: Bay, allocation: Allocation, now_s: float) -> Bay:
    key = str(bay.evse)
    if key not in allocation.bounds:
        return bay
    target = allocation.offers_a.get(key, 0.0)
    turn = bay.turn
    if target > 0 and turn.running_since_s is None and bay.promise.offered(now_s):
        turn = Turn(running_since_s=now_s)
    elif target == 0 and (turn.waiting_since_s is None or turn.running_since_s is not None):
        turn = Turn(waiting_since_s=now_s)
    return replace(bay, target_a=target, why=allocation.bounds[key], turn=turn)
