"""Who feeds whom: all that is wrong with it, not only the first."""

from collections.abc import Mapping

from csms.sites.model import Circuit

Feeds = Mapping[str, str | None]
"""What each circuit is fed from, by id; None: it is the supply."""


def tree_faults(feeds: Feeds) -> tuple[tuple[str, str], ...]:
    """(circuit id, problem) for every circuit that keeps `feeds` from being one tree."""
    faults: list[tuple[str, str]] = []
    root: str | None = None
    for circuit_id, fed_from in feeds.items():
        if fed_from is None and root is None:
            root = circuit_id
        elif fed_from is None:
            faults.append(
                (circuit_id, f"the supply is {root!r} already; name the circuit that feeds this one")
            )
        elif fed_from not in feeds:
            faults.append((circuit_id, f"there is no circuit {fed_from!r}"))
    looped: set[str] = set()
    for circuit_id in feeds:
        if circuit_id not in looped and (loop := _loop(circuit_id, feeds)):
            looped.update(loop)
            faults.append((circuit_id, f"makes a loop: {' < '.join([*loop, circuit_id])}"))
    return tuple(faults)


def hanging(circuits: tuple[Circuit, ...]) -> tuple[Circuit, ...]:
    """Those of `circuits` whose every feed up to the first supply is among them."""
    by_id = {circuit.id: circuit for circuit in circuits}
    root = next((circuit.id for circuit in circuits if circuit.fed_from is None), None)
    return tuple(circuit for circuit in circuits if root is not None and _top(circuit.id, by_id) == root)


def _loop(circuit_id: str, feeds: Feeds) -> list[str]:
    """The circuits of the loop that the circuit is part of, itself first; none when it is not."""
    trail = [circuit_id]
    at = feeds.get(circuit_id)
    while at is not None and at not in trail:
        trail.append(at)
        at = feeds.get(at)
    return trail if at == circuit_id else []


def _top(circuit_id: str, by_id: Mapping[str, Circuit]) -> str | None:
    """What the circuit hangs on at the end; None when that is not there, or never comes."""
    seen: set[str] = set()
    at = by_id.get(circuit_id)
    while at is not None and at.id not in seen:
        if at.fed_from is None:
            return at.id
        seen.add(at.id)
        at = by_id.get(at.fed_from)
    return None
