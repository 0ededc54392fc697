"""The figures of a run, as values, JSON and text."""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from csms.power.fallback import overloads_in_silence
from tools.simulation.clairvoyant import best_wh
from tools.simulation.even import even_wh
from tools.simulation.fairness import longest_wait_s, worst
from tools.simulation.grid import Episode
from tools.simulation.server import installation
from tools.simulation.world import Outcomes

ENERGY_BAR = 0.97


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """`within_*`: above a limit no longer than the cars need to follow a step of the base load; `beyond_*`:
    all other time above a limit. `reaction_s`: median, 99th percentile and longest time from a step that
    passed a limit until the line was under it again; empty where none was passed. Energies in kWh; `best_kwh`
    is that of somebody who knows everything beforehand, `even_kwh` of an even sharing without delays."""

    name: str
    days: float
    stations: int
    cars: int
    turned_away: int
    window_s: float
    episodes: int
    within_s: float
    within_as: float
    beyond_s: float
    beyond_as: float
    highest_share: float
    trips: int
    needed_kwh: float
    delivered_kwh: float
    best_kwh: float
    share_of_best: float
    longest_wait_s: float
    waited_longer_than_equal_s: float
    rotation_s: float
    reaction_s: tuple[float, ...]
    messages_per_station_hour: float
    live_per_station_hour: float
    stopped_sessions: int
    looks: int
    kills: int
    unsafe_in_silence: tuple[str, ...]
    even_kwh: float | None = None

    @property
    def safe(self) -> bool:
        """No second above a limit beyond the cars' reaction, no trip."""
        return self.beyond_s == 0 and self.trips == 0

    @property
    def fair(self) -> bool:
        """No car waited more than two rotation periods longer than an equal one."""
        return self.waited_longer_than_equal_s <= 2 * self.rotation_s

    def as_json(self) -> dict[str, Any]:
        return {**asdict(self), "safe": self.safe, "fair": self.fair}


def report(outcomes: Outcomes, *, even: bool = False) -> Report:
    """Judge a run. The best possible is computed on the cars that found a bay. `even`: what an even sharing
    would have given, too, which takes a while."""
    description, grid, stays = outcomes.description, outcomes.grid, outcomes.stays
    delivered_wh = sum(stay.energy_wh for stay in stays)
    best = best_wh(description, stays)
    episodes = grid.episodes
    hours = description.days * 24.0 * len(description.stations)
    sent = outcomes.server.sent
    highest = max((f.highest_a / description.circuit(f.circuit).limit_a for f in episodes), default=0.0)
    return Report(
        name=description.name,
        days=description.days,
        stations=len(description.stations),
        cars=len(stays),
        turned_away=len(outcomes.turned_away),
        window_s=outcomes.window_s,
        episodes=len(episodes),
        within_s=sum(e.seconds - e.beyond_s for e in episodes),
        within_as=sum(e.ampere_seconds - e.beyond_as for e in episodes),
        beyond_s=sum(e.beyond_s for e in episodes),
        beyond_as=sum(e.beyond_as for e in episodes),
        highest_share=highest,
        trips=len(grid.trips),
        needed_kwh=sum(stay.need_wh for stay in stays) / 1000,
        delivered_kwh=delivered_wh / 1000,
        best_kwh=best / 1000,
        share_of_best=delivered_wh / best if best else 1.0,
        longest_wait_s=longest_wait_s(stays),
        waited_longer_than_equal_s=worst(stays).waited_longer_s,
        rotation_s=description.timing.rotation_s,
        reaction_s=_reactions(episodes),
        messages_per_station_hour=sum(sent.values()) / hours,
        live_per_station_hour=next(n for purpose, n in sent.items() if purpose == "live") / hours,
        stopped_sessions=len(outcomes.server.stops),
        looks=outcomes.server.looks,
        kills=len(outcomes.killed_s),
        even_kwh=sum(even_wh(description, stays).values()) / 1000 if even else None,
        unsafe_in_silence=tuple(str(o) for o in overloads_in_silence(installation(description))),
    )


def _reactions(episodes: Sequence[Episode]) -> tuple[float, ...]:
    durations = sorted(episode.seconds for episode in episodes)
    if not durations:
        return ()
    at = [durations[min(len(durations) - 1, math.ceil(q * len(durations)) - 1)] for q in (0.5, 0.99, 1.0)]
    return tuple(at)


def text(found: Report) -> str:
    """For a terminal, 80 columns."""
    reaction = " / ".join(f"{value:.1f}" for value in found.reaction_s) or "none was passed"
    rows = [
        ("days, stations, cars", f"{found.days:g}, {found.stations}, {found.cars}"),
        ("cars that found no bay", f"{found.turned_away}"),
        (
            f"above a limit, within {found.window_s:.1f} s of a base-load step",
            f"{found.within_s:.1f} s, {found.within_as:.1f} As",
        ),
        ("above a limit, beyond that", f"{found.beyond_s:.1f} s, {found.beyond_as:.1f} As"),
        (
            "highest current, share of the limit",
            f"{found.highest_share:.3f}" if found.episodes else "below 1",
        ),
        ("breaker trips", f"{found.trips}"),
        ("step to currents under the limit, 50 % / 99 % / most, s", reaction),
        (
            "delivered of the best possible, kWh",
            f"{found.delivered_kwh:.1f} of {found.best_kwh:.1f} ({100 * found.share_of_best:.1f} %)",
        ),
        ("needed by the cars, kWh", f"{found.needed_kwh:.1f}"),
        ("longest wait, min", f"{found.longest_wait_s / 60:.1f}"),
        ("waited longer than an equal car, min", f"{found.waited_longer_than_equal_s / 60:.1f}"),
        (
            "messages per station and hour, live offers of them",
            f"{found.messages_per_station_hour:.1f}, {found.live_per_station_hour:.1f}",
        ),
        ("sessions that were stopped, server kills", f"{found.stopped_sessions}, {found.kills}"),
        ("looks of the decision", f"{found.looks}"),
    ]
    lines = [found.name, *(f"  {label:<58} {value}" for label, value in rows)]
    lines += [f"  not safe in silence: {overload}" for overload in found.unsafe_in_silence]
    return "\n".join(lines)
