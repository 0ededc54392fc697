"""The live parts of a site's page, built once for all who look at it.

Names hardly ever change, so they are read when a fact says so. The rest takes four queries, at most
once a second and site, however many look.
"""

import asyncio
import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from api.web import site_view
from api.web.desk import render
from api.web.names import Names, names_of
from api.web.sentences import refusals, sentence
from csms.app import Central
from csms.cluster.history import PastFact
from csms.sites.model import Circuit, Site

EVENTS = 14
LOOK_BACK = 120
"""Facts read for the events shown: many facts are not for people."""
AT_MOST_EVERY_S = 1.0
NAMES_HOLD_S = 60.0
RENAMING = ("site.", "circuit.", "station.created", "station.changed", "station.deleted", "member.", "group.")
"""Topics after which something may have another name or place."""

Parts = dict[str, str]
"""The page's live parts as HTML, by name."""


@dataclass(slots=True)
class _Board:
    """What is kept of one site between two looks. Times are the loop's, in seconds."""

    lock: asyncio.Lock = field(default_factory=asyncio.Lock)
    parts: Parts = field(default_factory=dict)
    built_s: float = -math.inf
    site: Site | None = None
    names: Names | None = None
    circuits: tuple[Circuit, ...] = ()
    named_s: float = -math.inf
    newest: int = -1


class Panels:
    """Builds the parts; `of` for the stream, `fresh` for a page that is loaded."""

    def __init__(self, central: Central) -> None:
        self._central = central
        self._boards: dict[str, _Board] = {}

    async def of(self, site: Site) -> Parts:
        """The parts as they were at most a second ago."""
        board = self._boards.setdefault(site.id, _Board())
        async with board.lock:
            if self._now_s() - board.built_s >= AT_MOST_EVERY_S:
                await self._build(board, site)
            return board.parts

    async def fresh(self, site: Site) -> Parts:
        """The parts as they are now."""
        board = self._boards.setdefault(site.id, _Board())
        async with board.lock:
            await self._build(board, site)
            return board.parts

    def _now_s(self) -> float:
        return asyncio.get_running_loop().time()

    async def _build(self, board: _Board, site: Site) -> None:
        central = self._central
        facts = (await central.history.latest(site_id=site.id, limit=LOOK_BACK)).items
        if board.names is None or self._renamed(board, facts):
            board.site = await central.sites.get_site(site.id)
            board.names = await names_of(central, site)
            board.circuits = await central.sites.circuits_of(site.id)
            board.named_s = self._now_s()
        site = board.site or site
        board.newest = facts[0].id if facts else board.newest
        names = board.names.all
        stations = await central.stations.stations_of(site.id)
        evses = await central.stations.evses_of(site.id)
        running = await central.sessions.open_sessions(site.id)
        shown = central.power.picture(site.id)
        refused = refusals((fact.topic, fact.subject, fact.body) for fact in facts)
        set_ups = {station.id: central.power.set_up(station.id) for station in stations}
        problems = {id: set_up.problem for id, set_up in set_ups.items() if set_up and set_up.problem}
        bays = site_view.bay_rows(stations, evses, shown, running, names, refused, problems)
        told = [event for fact in facts if (event := sentence(fact.topic, fact.body, fact.at, names))]
        events = sorted(told[:EVENTS], key=lambda event: event.at, reverse=True)
        totals = site_view.totals(stations, bays)
        zone, clock = site.time_zone, central.clock.now()
        board.parts = {
            "totals": render(
                "parts/totals.html",
                zone=zone,
                clock=clock,
                totals=totals,
                speed=central.speed_text,
                active=site.active,
                picture_full=shown.picture_full if shown else True,
            ),
            "supply": render("parts/supply.html", circuits=site_view.tree(board.circuits, shown, zone)),
            "bays": render("parts/bays.html", bays=bays),
            "events": render("parts/events.html", zone=zone, events=events),
        }
        board.built_s = self._now_s()

    def _renamed(self, board: _Board, facts: Iterable[PastFact]) -> bool:
        news = any(fact.id > board.newest and fact.topic.startswith(RENAMING) for fact in facts)
        return news or self._now_s() - board.named_s >= NAMES_HOLD_S
