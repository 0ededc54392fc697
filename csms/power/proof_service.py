"""No active site becomes unsafe, whoever changes what.

Asked by the services of sites and stations within the transaction of a change, so that two changes at
once cannot slip past each other. There is no way around it.
"""

import math
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from csms.errors import Conflict, InvalidInput
from csms.power.fallback import overloads_in_silence
from csms.power.records import installation
from csms.sites.service import SitesService
from csms.stations.service import StationsService
from csms.store.database import Connection

Excess = dict[str, tuple[float, str]]
"""By circuit and line: by how much it is over its limit in silence, and that in words."""


class SafetyProof:
    """Proves that silence is safe (`csms.power.fallback`), for `csms.sites.service.Proof`."""

    def __init__(self, sites: SitesService, stations: StationsService, delta_margin_percent: float) -> None:
        self._sites = sites
        self._stations = stations
        self._delta_margin_percent = delta_margin_percent

    @asynccontextmanager
    async def keeping(self, connection: Connection, *site_ids: str | None) -> AsyncIterator[None]:
        """Conflict when a site that is active after the change is worse anywhere than it was before.

        What was over its limit already (a station told of one EVSE more) does not keep anybody from
        changing something else, or from making it better.
        """
        before = {site_id: await self._excess(connection, site_id) for site_id in site_ids if site_id}
        yield
        for site_id, excess in before.items():
            found = await self._excess(connection, site_id)
            worse = [
                text
                for key, (over, text) in (found or {}).items()
                if over > (excess or {}).get(key, (0.0, ""))[0] + 1e-9
            ]
            if worse:
                said = "; ".join(worse)
                raise Conflict(f"site {site_id} is to be active, but would not be safe in silence: {said}")

    async def _excess(self, connection: Connection, site_id: str) -> Excess | None:
        """What is over its limit in silence; None for a site that is not active, or not there yet."""
        site, circuits = await self._sites.tree(connection, site_id)
        if not site.active:
            return None
        stations, evses = await self._stations.placed(connection, site_id)
        try:
            made = installation(
                site, circuits, stations, evses, delta_margin_percent=self._delta_margin_percent
            )
        except InvalidInput as error:
            return {error.field: (math.inf, str(error))}
        return {
            f"{each.circuit} {each.line}": (each.carries - each.limit, str(each))
            for each in overloads_in_silence(made)
        }
