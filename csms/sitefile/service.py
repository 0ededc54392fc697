"""Site files in and out of the database: all of a file or nothing of it."""

import asyncio
from dataclasses import dataclass

from csms.clock import Clock
from csms.errors import InvalidInput, ManyInvalid
from csms.power.proof_service import SafetyProof
from csms.sitefile.description import Description, Planned
from csms.sitefile.findings import Severity
from csms.sitefile.report import Report, check_text
from csms.sitefile.writing import write
from csms.sites.model import path_to_root
from csms.sites.plan_service import SitePlans
from csms.sites.service import Proof, SitesService
from csms.stations.plan_service import StationPlans
from csms.stations.service import StationsService
from csms.store.database import Database


@dataclass(frozen=True, slots=True)
class Imported:
    """`touched`: ids of what is new or changed (empty: all was so already). `untouched`: stations and
    circuits of the site that the file does not name; they stay. `report`: what the check says."""

    site_id: str
    touched: tuple[str, ...]
    untouched: tuple[str, ...]
    report: Report


class SiteFiles:
    """`proof` keeps active sites safe. Raises NotFound, Conflict, InvalidInput."""

    def __init__(
        self,
        database: Database,
        clock: Clock,
        *,
        sites: SitesService,
        stations: StationsService,
        proof: Proof,
    ) -> None:
        self._database = database
        self._sites = sites
        self._stations = stations
        self._proof = proof
        self._site_plans = SitePlans(clock)
        self._station_plans = StationPlans(database, clock)

    async def bring_in(self, text: str) -> Imported:
        """Put the site that `text` describes into the database: create what is new, update what is not.

        ManyInvalid names, by line and column, all that is wrong with the text or makes the site unsafe.
        Conflict: a station would be moved under a plugged-in car, or an active site made unsafe by what
        the file does not name. A site that is new is not active.
        """
        # A file of 2,000 stations takes seconds: stations are served meanwhile.
        report = await asyncio.to_thread(check_text, text)
        if report.description is None or not report.safe:
            faults = [each for each in report.findings if each.severity is Severity.FAULT]
            raise ManyInvalid((str(each.place), f"{each.path}: {each.text}") for each in faults)
        return await self._put(report.description, report)

    async def _put(self, description: Description, report: Report) -> Imported:
        site = description.site
        async with self._database.write() as connection:
            touched = list(await self._site_plans.put_site(connection, site))
            async with self._proof.keeping(connection, site.id):
                touched += await self._site_plans.put_circuits(connection, site, description.circuits)
                for planned in description.stations:
                    try:
                        put = self._station_plans.put_station
                        if await put(connection, planned.station, planned.evses):
                            touched.append(planned.station.id)
                    except InvalidInput as error:
                        path, place = description.of_station(planned.station.id)
                        raise InvalidInput(str(place), f"{path}.{error.field}: {error.problem}") from None
            named = {c.id for c in description.circuits} | {p.station.id for p in description.stations}
            _, circuits = await self._sites.tree(connection, site.id)
            stations, _ = await self._stations.placed(connection, site.id)
        there = [each.id for each in circuits] + [each.id for each in stations]
        return Imported(site.id, tuple(touched), tuple(i for i in there if i not in named), report)

    async def write_out(self, site_id: str) -> str:
        """The site as a file that `bring_in` takes."""
        async with self._database.write() as connection:
            site, circuits = await self._sites.tree(connection, site_id)
            stations, evses = await self._stations.placed(connection, site_id)
        by_id = {circuit.id: circuit for circuit in circuits}
        return write(
            Description(
                site,
                tuple(sorted(circuits, key=lambda each: (len(path_to_root(by_id, each.id)), each.id))),
                tuple(
                    Planned(
                        station,
                        sum(e.station_id == station.id and e.number > 0 and e.confirmed for e in evses) or 1,
                    )
                    for station in stations
                    if station.circuit_id is not None
                ),
            )
        )


def site_files(database: Database, clock: Clock, delta_margin_percent: float) -> SiteFiles:
    """For a command that has nothing but the database."""
    sites = SitesService(database, clock)
    stations = StationsService(database, clock, sites)
    proof = SafetyProof(sites, stations, delta_margin_percent)
    return SiteFiles(database, clock, sites=sites, stations=stations, proof=proof)
