"""Which line a car on one line is put on, where its station can choose.

Chosen when the car starts, or is let in again after a pause: then nothing flows. A car that charges is
moved only if that leaves somebody clearly better off, and never under load: it is paused, the pilot is off
for a while, and its next offer names the new line (changing contactors under load harms them and cars;
half a minute, and once in a quarter of an hour, are common practice). Until the car rests it counts on both
lines; and from then on too, until it is measured on the new one alone, at a station that has not yet been
seen to do as it is told.

Only a station that says it can choose does (ACPhaseSwitchingSupported in OCPP 2.0.1), only where the
installer allows it, and only in the star.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from csms.power.installation import Evse, Line, System
from csms.power.sharing.allocator import Allocation
from csms.power.sharing.demand import BoundKind, Demand
from csms.power.steering.bay import Bay, Move
from csms.power.steering.turns import MIN_ON_S

MOVE_EVERY_S = 900.0
LOOK_EVERY_S = 60.0
PAUSE_S = 30.0
GIVE_UP_S = 180.0
GAIN_A = 2.0
"""Per unit of weight, to the worst-off whom it makes a difference to: less is not worth a pause."""
MOST_TRIED = 8
STILL_A = 1.0


def can_choose(bay: Bay, system: System) -> bool:
    """Whether its station puts a car on the line that we name."""
    wiring = bay.wiring
    able = wiring.can_choose_line and bay.learned.chooses is True
    return able and len(wiring.rotation) > 1 and not system.is_delta


def own_line(bay: Bay) -> int | None:
    """Which of the station's own lines (1 to 3) the car was found to use; None: unknown, or several."""
    used = [number for number, use in enumerate(bay.usage.lines or (), 1) if use]
    return used[0] if len(used) == 1 else None


def choices(bay: Bay, system: System, now_s: float) -> tuple[Line, ...]:
    """The lines of the supply that a car can be started on; empty: it has no choice now."""
    charge = bay.charge
    if charge is None or bay.move is not None or not can_choose(bay, system):
        return ()
    one_line = charge.lines == 1 or own_line(bay) is not None
    return bay.wiring.rotation if one_line and bay.promise.counted(now_s) == 0 else ()


@dataclass(frozen=True, slots=True)
class Better:
    """The car at `evse` is better on its station's own `line`."""

    evse: Evse
    line: int


def find_move(
    bays: Sequence[Bay],
    demands: Sequence[Demand],
    now: Allocation,
    share: Callable[[Sequence[Demand]], Allocation],
    system: System,
    now_s: float,
) -> Better | None:
    """The move that helps most, if any is worth its pause. `share` allocates other demands."""
    tight = {
        (bound.circuit, bound.line)
        for bound in now.bounds.values()
        if bound.kind in (BoundKind.CIRCUIT_LINE, BoundKind.WAITING)
    }
    lines = {line for _, line in tight}
    asked = {demand.id: demand for demand in demands}
    candidates = [
        bay
        for bay in bays
        if str(bay.evse) in asked and _may_move(bay, system, now_s) and asked[str(bay.evse)].lines[0] in lines
    ]
    before = _levels(demands, now)
    best: tuple[float, Better] | None = None
    for bay in candidates[:MOST_TRIED]:
        key = str(bay.evse)
        for number, line in enumerate(bay.wiring.rotation, 1):
            if line in asked[key].lines:
                continue
            moved = [replace(d, lines=(line,)) if d.id == key else d for d in demands]
            gain = _gain(before, _levels(moved, share(moved)))
            if gain >= GAIN_A and (best is None or gain > best[0]):
                best = gain, Better(bay.evse, number)
    return None if best is None else best[1]


def _may_move(bay: Bay, system: System, now_s: float) -> bool:
    return (
        can_choose(bay, system)
        and bay.charge is not None
        and bay.charge.wants
        and bay.move is None
        and own_line(bay) is not None
        and bay.learned.zero is not False
        and bool(bay.promise.offered(now_s))
        and not bay.turn.runs_for_less_than(MIN_ON_S, now_s)
        and now_s - bay.moved_s >= MOVE_EVERY_S
    )


def _levels(demands: Sequence[Demand], found: Allocation) -> list[float]:
    return sorted(found.offers_a.get(demand.id, 0.0) / demand.weight for demand in demands)


def _gain(before: Sequence[float], after: Sequence[float]) -> float:
    """By how much the worst-off whose level differs is better off."""
    return next((new - old for old, new in zip(before, after, strict=True) if abs(new - old) > 0.5), 0.0)


def begin(bay: Bay, line: int, now_s: float) -> Bay:
    """It is paused now to be put on its station's own `line`; from here on it counts on both."""
    return replace(bay.counting_on(line), move=Move(line, now_s), moved_s=now_s)


def go_on(bay: Bay, now_s: float) -> Bay:
    """A move in its pause: held at nothing, then free to start on its new line. One that does not come to
    rest is given up."""
    move, live = bay.move, bay.promise.live
    if move is None:
        return bay
    if now_s - move.since_s >= GIVE_UP_S or bay.charge is None:
        return replace(bay, move=None)
    drawn = max((value for value in bay.measured_a if value is not None), default=0.0)
    rests = (
        live is not None
        and bay.promise.counted(now_s) == 0
        and now_s - live.set_s >= PAUSE_S
        and (bay.measured_s <= live.set_s or drawn <= STILL_A)
    )
    return replace(bay, move=None, line=move.line) if rests else replace(bay, target_a=0.0)


def chosen(bays: Sequence[Bay], lines: Mapping[str, Line]) -> list[Bay]:
    """The bays with the line that the allocation has chosen for their next start."""
    if not lines:
        return list(bays)
    return [
        replace(bay, line=bay.wiring.rotation.index(line) + 1)
        if (line := lines.get(str(bay.evse))) is not None and bay.target_a > 0
        else bay
        for bay in bays
    ]


def next_s(bay: Bay) -> float | None:
    """When something is due in a move."""
    live = bay.promise.live
    if bay.move is None:
        return None
    return bay.move.since_s + GIVE_UP_S if live is None else live.set_s + PAUSE_S
