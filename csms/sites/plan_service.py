"""A site and its circuits as they are planned, put into the database in the transaction of the caller."""

from dataclasses import replace

from csms.clock import Clock
from csms.errors import Conflict
from csms.sites import repository
from csms.sites.model import Circuit, Site, check_circuit, check_site, path_to_root
from csms.store.database import Connection
from csms.store.outbox import Fact, put


class SitePlans:
    """Creates and updates; what a plan does not name stays. Raises Conflict, InvalidInput."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock

    async def put_site(self, connection: Connection, site: Site) -> tuple[str, ...]:
        """The site as planned, inactive when it is new. Returns its id when that changed anything."""
        found = await repository.find_site(connection, site.id, lock=True)
        if found is None:
            site = check_site(replace(site, active=False, created_at=self._clock.now()))
            await repository.insert_site(connection, site)
            await put(connection, self._fact("site.created", site, site.id, system=site.system.value))
            return (site.id,)
        changed = check_site(replace(site, active=found.active, created_at=found.created_at))
        if changed == found:
            return ()
        if changed.system is not found.system and found.active:
            raise Conflict("the system of an active site cannot change; deactivate the site first")
        await repository.update_site(connection, changed)
        await put(connection, self._fact("site.changed", changed, site.id, system=changed.system.value))
        return (site.id,)

    async def put_circuits(
        self, connection: Connection, site: Site, circuits: tuple[Circuit, ...]
    ) -> tuple[str, ...]:
        """The circuits as planned. Returns the ids of those that are new or changed."""
        kept = {circuit.id: circuit for circuit in await repository.circuits_of(connection, site.id)}
        planned = {circuit.id: replace(circuit, site_id=site.id) for circuit in circuits}
        final = kept | planned
        checked = [check_circuit(circuit, final.values()) for circuit in planned.values()]
        touched = []
        # The feeding one first, since each refers to its feed.
        for circuit in sorted(checked, key=lambda each: len(path_to_root(final, each.id))):
            if kept.get(circuit.id) == circuit:
                continue
            touched.append(circuit.id)
            if circuit.id in kept:
                await repository.update_circuit(connection, circuit)
                topic = "circuit.changed"
            elif await repository.find_circuit(connection, circuit.id) is not None:
                raise Conflict(f"another site has a circuit {circuit.id!r} already; choose another id")
            else:
                await repository.insert_circuit(connection, circuit)
                topic = "circuit.created"
            body = {"circuit": circuit.name, "limit_a": list(circuit.limit_a)}
            await put(connection, self._fact(topic, site, circuit.id, **body))
        return tuple(touched)

    def _fact(self, topic: str, site: Site, subject: str, **body: object) -> Fact:
        body = {"site": site.name, **body}
        return Fact(topic=topic, at=self._clock.now(), site_id=site.id, subject=subject, body=body)
