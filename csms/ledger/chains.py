"""A charger's sessions one after another: what its register rose by, and what lies between them.

A register that stands lower than the session before left it belongs to another meter, or one that was
reset: a mark, and a new beginning, never a negative energy.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from itertools import pairwise

from csms.ledger.proof import Chain
from csms.ledger.registers import LARGEST_EXTRA_WH, Measured, SessionRow

Link = tuple[SessionRow, Measured]


def chains(links: Iterable[Link], since: int, until: int) -> tuple[Chain, ...]:
    """One chain per charger of its sessions in order of time.

    What was drawn between two sessions counts where the later one begins from `since` to before
    `until`; a session from before is there only to lead up to the next.
    """
    sorted_out: defaultdict[tuple[str, int], list[Link]] = defaultdict(list)
    for link in links:
        sorted_out[link[0].station_id, link[0].evse].append(link)
    found = []
    for place, each in sorted(sorted_out.items()):
        each.sort(key=lambda link: (link[0].started, link[0].id))
        found.append(_chain(*place, each, since, until))
    return tuple(found)


def _chain(station_id: str, evse: int, links: Sequence[Link], since: int, until: int) -> Chain:
    counted = [link for link in links if link[1].end > since or link[0].started >= since]
    between, swaps, overlaps, unexplained = 0, [], [], []
    for (before, had), (row, measured) in pairwise(links):
        if before.ended is not None and row.started < before.ended and measured.end > row.started:
            overlaps.append(f"sessions {before.id} and {row.id} overlap on {station_id}/{evse}")
        if row.started < since or row.started >= until:
            continue
        left, begins = _left(had), measured.base_wh
        if left is None or begins is None:
            continue
        gap = begins - left
        if gap < 0 or gap > LARGEST_EXTRA_WH:
            swaps.append(
                f"{station_id}/{evse} stood at {left} Wh and at {begins} Wh when session {row.id} began "
                f"on {_written(row.started)}"
            )
        else:
            between += gap
    for row, measured in counted:
        rose = _told(row, measured)
        if rose is not None and rose != measured.energy_wh:
            unexplained.append(
                f"session {row.id}: {measured.energy_wh} Wh, but its register rose by {rose} Wh"
            )
        swaps += [f"session {row.id}: the meter was reset or changed within it"] * (measured.base_wh is None)
    return Chain(
        station_id=station_id,
        evse=evse,
        sessions=len(counted),
        sessions_wh=sum(measured.energy_wh for _, measured in counted),
        between_wh=between,
        register_wh=_rise(counted, links, since, until),
        swaps=tuple(swaps),
        overlaps=tuple(overlaps),
        unexplained=tuple(unexplained),
    )


def _rise(counted: Sequence[Link], links: Sequence[Link], since: int, until: int) -> int:
    """What the register rose by: last minus first of every unbroken stretch of it.

    A stretch begins with the first session, or where the register of the one before was left by a
    session that leads up to it.
    """
    if not counted:
        return 0
    ahead = links[: len(links) - len(counted)]
    lead = _left(ahead[-1][1]) if ahead else None
    rise = 0
    first: int | None = lead if counted[0][0].started >= since else None
    last: int | None = first
    for row, measured in counted:
        begins, left = measured.base_wh, _left(measured)
        if begins is None or left is None:
            rise += (last or 0) - (first or 0) + measured.energy_wh
            first = last = None
            continue
        jumped = last is None or begins < last or begins - last > LARGEST_EXTRA_WH or row.started >= until
        if jumped:
            rise += (last or 0) - (first or 0)
            first = begins
        last = left
    return rise + (last or 0) - (first or 0)


def _told(row: SessionRow, measured: Measured) -> int | None:
    """Stop less start register as told; None where one is missing or something odd is marked."""
    start, stop = row.register_start_wh, row.register_stop_wh
    odd = row.marked or bool(measured.reason) or measured.base_wh is None
    if odd or start is None or stop is None or not (row.start_seen and row.stop_seen):
        return None
    return stop - start


def _left(measured: Measured) -> int | None:
    return None if measured.base_wh is None else measured.base_wh + measured.energy_wh


def _written(second: int) -> str:
    return datetime.fromtimestamp(second, UTC).isoformat().replace("+00:00", "Z")
