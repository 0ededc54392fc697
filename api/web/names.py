"""Names of what a site holds, for pages that speak of things and not of ids."""

from dataclasses import dataclass

from csms.app import Central
from csms.sites.model import Site
from csms.store.paging import every


@dataclass(frozen=True, slots=True)
class Names:
    """Id to name, in the order of a list to choose from; `all` has members and groups as well."""

    circuits: dict[str, str]
    stations: dict[str, str]
    all: dict[str, str]


async def names_of(central: Central, site: Site) -> Names:
    """The names at `site`."""
    circuits = {c.id: c.name for c in await central.sites.circuits_of(site.id)}
    stations = {s.id: s.name or s.id for s in await central.stations.stations_of(site.id)}
    people = {m.id: m.name for m in await every(central.members.list, site_id=site.id)}
    groups = {g.id: g.name for g in await every(central.groups.list, site_id=site.id)}
    return Names(circuits, stations, {site.id: site.name, **circuits, **stations, **people, **groups})


def pages_of(site_id: str) -> tuple[tuple[str, str], ...]:
    """The pages of a site, in the order of the head line."""
    return (
        ("Site", f"/sites/{site_id}"),
        ("Access", f"/access/{site_id}"),
        ("Month", f"/month/{site_id}"),
        ("Reports", f"/reports/{site_id}"),
        ("Alarms", f"/alarms/{site_id}"),
    )
