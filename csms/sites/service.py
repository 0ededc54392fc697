"""Sites and circuits, as the rest of the program holds them."""

from contextlib import AbstractAsyncContextManager, nullcontext
from dataclasses import replace
from typing import Protocol, Unpack

from csms.clock import Clock
from csms.errors import Conflict, InvalidInput
from csms.ids import new_id
from csms.sites import repository
from csms.sites.model import (
    NO_AMPS,
    CapWindow,
    Circuit,
    CircuitChanges,
    CircuitMeter,
    LineAmps,
    Site,
    SiteChanges,
    System,
    check_circuit,
    check_site,
    path_to_root,
)
from csms.store.database import Connection, Database
from csms.store.outbox import Fact, put
from csms.store.paging import Page


class Proof(Protocol):
    """Keeps active sites safe in silence (`csms.power.proof_service`)."""

    def keeping(self, connection: Connection, *site_ids: str | None) -> AbstractAsyncContextManager[None]:
        """What is done within, in the transaction of `connection`, must leave the sites as safe as they
        were if they are active then; else Conflict, which undoes it."""


class Unproved:
    """For sites where no power is shared at all."""

    def keeping(self, connection: Connection, *site_ids: str | None) -> AbstractAsyncContextManager[None]:
        return nullcontext()


class SitesService:
    """Keeps sites and the trees of their circuits. Raises NotFound, Conflict, InvalidInput."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock
        self._proof: Proof = Unproved()

    def prove_by(self, proof: Proof) -> None:
        """From now on nothing makes an active site unsafe: `proof` is asked within every change."""
        self._proof = proof

    async def tree(self, connection: Connection, site_id: str) -> tuple[Site, tuple[Circuit, ...]]:
        """The site and its circuits within a transaction, in which nobody else changes them then."""
        site = await repository.get_site(connection, site_id, lock=True)
        return site, await repository.circuits_of(connection, site_id)

    async def create_site(
        self, *, name: str, time_zone: str, currency: str, system: System, id: str | None = None
    ) -> Site:
        """A new site, not yet active. `id` is made up when none is given."""
        site = check_site(
            Site(
                id=new_id("site") if id is None else id,
                name=name,
                time_zone=time_zone,
                currency=currency,
                system=system,
                active=False,
                created_at=self._clock.now(),
            )
        )
        async with self._database.write() as connection:
            if await repository.find_site(connection, site.id) is not None:
                raise Conflict(f"there is a site {site.id!r} already")
            await repository.insert_site(connection, site)
            await put(connection, self._fact("site.created", site))
        return site

    async def get_site(self, site_id: str) -> Site:
        async with self._database.read() as connection:
            return await repository.get_site(connection, site_id)

    async def list_sites(self, *, after: str | None = None, limit: int = 50) -> Page[Site]:
        async with self._database.read() as connection:
            return await repository.list_sites(connection, after=after, limit=limit)

    async def update_site(self, site_id: str, **changes: Unpack[SiteChanges]) -> Site:
        """The site after `changes`. The system of an active site stays: its currents were proved for it."""
        async with self._database.write() as connection:
            site = await repository.get_site(connection, site_id, lock=True)
            changed = check_site(replace(site, **changes))
            if changed.system is not site.system and site.active:
                raise Conflict("the system of an active site cannot change; deactivate the site first")
            if changed != site:
                await repository.update_site(connection, changed)
                await put(connection, self._fact("site.changed", changed))
        return changed

    async def set_active(self, site_id: str, active: bool) -> Site:
        """Switch the site on or off; Conflict when it would not be safe in silence."""
        async with self._database.write() as connection, self._proof.keeping(connection, site_id):
            site = await repository.get_site(connection, site_id, lock=True)
            changed = replace(site, active=active)
            if changed != site:
                await repository.update_site(connection, changed)
                await put(connection, self._fact("site.activated" if active else "site.deactivated", changed))
        return changed

    async def create_circuit(
        self,
        site_id: str,
        *,
        name: str,
        fed_from: str | None,
        limit_a: LineAmps,
        device_a: float | None = None,
        cap_w: int | None = None,
        cap_windows: tuple[CapWindow, ...] = (),
        unbalance_a: float | None = None,
        worst_base_a: LineAmps = NO_AMPS,
        meter: CircuitMeter | None = None,
        id: str | None = None,
    ) -> Circuit:
        """A new circuit. `id` is made up when none is given."""
        circuit = Circuit(
            id=new_id("cir") if id is None else id,
            site_id=site_id,
            name=name,
            fed_from=fed_from,
            limit_a=limit_a,
            device_a=device_a,
            cap_w=cap_w,
            cap_windows=cap_windows,
            unbalance_a=unbalance_a,
            worst_base_a=worst_base_a,
            meter=meter,
        )
        async with self._database.write() as connection, self._proof.keeping(connection, site_id):
            site = await repository.get_site(connection, site_id, lock=True)
            circuit = check_circuit(circuit, await repository.circuits_of(connection, site_id))
            if await repository.find_circuit(connection, circuit.id) is not None:
                raise Conflict(f"there is a circuit {circuit.id!r} already")
            await repository.insert_circuit(connection, circuit)
            await put(connection, self._circuit_fact("circuit.created", site, circuit))
        return circuit

    async def get_circuit(self, circuit_id: str) -> Circuit:
        async with self._database.read() as connection:
            return await repository.get_circuit(connection, circuit_id)

    async def circuits_of(self, site_id: str) -> tuple[Circuit, ...]:
        """All circuits of the site, in order of their ids."""
        async with self._database.read() as connection:
            await repository.get_site(connection, site_id)
            return await repository.circuits_of(connection, site_id)

    async def list_circuits(
        self, site_id: str, *, after: str | None = None, limit: int = 50
    ) -> Page[Circuit]:
        async with self._database.read() as connection:
            await repository.get_site(connection, site_id)
            return await repository.list_circuits(connection, site_id, after=after, limit=limit)

    async def update_circuit(self, circuit_id: str, **changes: Unpack[CircuitChanges]) -> Circuit:
        """The circuit after `changes`."""
        async with self._database.write() as connection:
            site, circuit = await repository.get_with_site(connection, circuit_id)
            others = await repository.circuits_of(connection, circuit.site_id)
            changed = check_circuit(replace(circuit, **changes), others)
            async with self._proof.keeping(connection, site.id):
                if changed != circuit:
                    await repository.update_circuit(connection, changed)
                    await put(connection, self._circuit_fact("circuit.changed", site, changed))
        return changed

    async def delete_circuit(self, circuit_id: str) -> None:
        """Remove a circuit that nothing hangs on; Conflict says what does."""
        async with self._database.write() as connection:
            site, circuit = await repository.get_with_site(connection, circuit_id)
            hanging = await repository.hanging_on(connection, circuit_id)
            if hanging:
                what = ", ".join(f"{count} {sort}" for sort, count in hanging.items())
                raise Conflict(f"circuit {circuit.name!r} still has {what}; move or remove them first")
            await repository.delete_circuit(connection, circuit_id)
            await put(connection, self._circuit_fact("circuit.deleted", site, circuit))

    async def path_to_root(self, circuit_id: str) -> tuple[Circuit, ...]:
        """The circuit and all that feed it, the supply last."""
        async with self._database.read() as connection:
            circuit = await repository.get_circuit(connection, circuit_id)
            circuits = await repository.circuits_of(connection, circuit.site_id)
        return path_to_root({each.id: each for each in circuits}, circuit_id)

    async def check_place(self, site_id: str | None, circuit_id: str | None) -> None:
        """InvalidInput (`site_id`, `circuit_id`) when a station cannot be put there."""
        async with self._database.read() as connection:
            if site_id is not None and await repository.find_site(connection, site_id) is None:
                raise InvalidInput("site_id", f"there is no site {site_id!r}")
            if circuit_id is None:
                return
            circuit = await repository.find_circuit(connection, circuit_id)
        if circuit is None or circuit.site_id != site_id:
            raise InvalidInput("circuit_id", f"the site has no circuit {circuit_id!r}")

    def _fact(self, topic: str, site: Site) -> Fact:
        body = {"site": site.name, "system": site.system.value, "active": site.active}
        return Fact(topic=topic, at=self._clock.now(), site_id=site.id, subject=site.id, body=body)

    def _circuit_fact(self, topic: str, site: Site, circuit: Circuit) -> Fact:
        body = {"site": site.name, "circuit": circuit.name, "limit_a": list(circuit.limit_a)}
        return Fact(topic=topic, at=self._clock.now(), site_id=site.id, subject=circuit.id, body=body)
