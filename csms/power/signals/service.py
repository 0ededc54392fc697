"""Caps from outside: a grid company or an energy manager asks for less power for some hours.

Each is kept until it is over, so that a restart does not lift it, and listed for ever. It counts all that
flows through its circuit, the building there too: for the chargers alone name the circuit that feeds only
them. When nobody can hear us the fallbacks hold, whatever was asked for.
"""

from collections.abc import Awaitable, Callable
from dataclasses import replace
from datetime import datetime, timedelta

from csms.clock import Clock
from csms.errors import InvalidInput
from csms.power.caps import CapSignal, Signals
from csms.power.signals import repository
from csms.power.signals.repository import KeptSignal
from csms.sites.model import LARGEST_POWER_W
from csms.sites.service import SitesService
from csms.store.database import Database
from csms.store.outbox import Fact, put
from csms.store.paging import Page

LONGEST = timedelta(days=366)


class CapSignals:
    """`changed` is called with a site's id after its signals have changed. Raises NotFound, InvalidInput."""

    def __init__(
        self, database: Database, clock: Clock, sites: SitesService, changed: Callable[[str], Awaitable[None]]
    ) -> None:
        self._database = database
        self._clock = clock
        self._sites = sites
        self._changed = changed

    async def ask(
        self,
        circuit_id: str,
        *,
        cap_w: int,
        until: datetime,
        since: datetime | None = None,
        reason: str = "",
        by: str = "",
    ) -> KeptSignal:
        """From `since` (None: now) to before `until` at most `cap_w` flows through the circuit."""
        circuit = await self._sites.get_circuit(circuit_id)
        now = self._clock.now()
        begins = now if since is None else since
        if not 0 <= cap_w <= LARGEST_POWER_W:
            raise InvalidInput("cap_w", f"must be from 0 to {LARGEST_POWER_W} W, not {cap_w}")
        if until <= begins:
            raise InvalidInput("until", "must be after the beginning")
        if until <= now:
            raise InvalidInput("until", "is over already: give an instant to come")
        if until - begins > LONGEST:
            raise InvalidInput(
                "until", "is more than a year after the beginning; change the circuit's cap_w instead"
            )
        signal = KeptSignal(
            id=0,
            circuit_id=circuit.id,
            site_id=circuit.site_id,
            cap_w=cap_w,
            from_at=begins,
            until_at=until,
            reason=reason,
            created_at=now,
            created_by=by,
        )
        async with self._database.write() as connection:
            signal = replace(signal, id=await repository.add(connection, signal))
            await put(connection, _fact("cap.asked", signal, now))
        await self._changed(circuit.site_id)
        return signal

    async def withdraw(self, circuit_id: str, id: int) -> KeptSignal:
        """Take it back; one that is over or withdrawn stays as it is."""
        now = self._clock.now()
        async with self._database.write() as connection:
            signal = await repository.get(connection, circuit_id, id)
            if signal.withdrawn_at is not None or signal.until_at <= now:
                return signal
            await repository.withdraw(connection, id, now)
            await put(connection, _fact("cap.withdrawn", signal, now))
        await self._changed(signal.site_id)
        return replace(signal, withdrawn_at=now)

    async def listed(self, circuit_id: str, *, after: str | None = None, limit: int = 50) -> Page[KeptSignal]:
        """All that the circuit ever had, the newest first."""
        await self._sites.get_circuit(circuit_id)
        async with self._database.read() as connection:
            return await repository.listed(connection, circuit_id, after=after, limit=limit)

    async def of_site(self, site_id: str) -> Signals:
        """What is in force or to come, by circuit."""
        async with self._database.read() as connection:
            kept = await repository.coming(connection, site_id, self._clock.now())
        found: dict[str, tuple[CapSignal, ...]] = {}
        for signal in kept:
            made = CapSignal(float(signal.cap_w), signal.until_at, signal.from_at, signal.reason)
            found[signal.circuit_id] = (*found.get(signal.circuit_id, ()), made)
        return found


def _fact(topic: str, signal: KeptSignal, now: datetime) -> Fact:
    return Fact(
        topic=topic,
        at=now,
        site_id=signal.site_id,
        subject=str(signal.id),
        body={
            "circuit": signal.circuit_id,
            "cap_w": signal.cap_w,
            "from": signal.from_at.isoformat(),
            "until": signal.until_at.isoformat(),
            "reason": signal.reason,
        },
    )
