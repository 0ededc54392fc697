"""Leads a station to a higher security profile, step by step, and goes on where it was cut off.

Each step is written down before it is done. What was under way when the connection or this server
ended goes on when the station is back; a station that comes back by the old door after the switch
has fallen back, which is told and left to a person.
"""

import asyncio
import logging
from collections.abc import Callable, Mapping
from datetime import datetime

from csms.clock import Clock
from csms.errors import Conflict, PhaseyardError, StationError
from csms.security.signing_service import CertificateSigning
from csms.security.upgrade import UNDER_WAY, Means, Outcome, Step, check, first, follow
from csms.security.variables import PRIORITY_PATH, is_16, new_priority, profile_path
from csms.stations.asking import Commands
from csms.stations.commands import (
    Command,
    CommandResult,
    CommandStatus,
    GetVariables,
    Reset,
    SetVariables,
    Trigger,
    TriggerKind,
)
from csms.stations.model import VariableValue
from csms.stations.record import Station
from csms.stations.security.profile import Profile
from csms.stations.security.service import SecurityRecords, SecurityState
from csms.stations.service import StationsService
from csms.stations.words.network import SetNetworkProfile
from csms.stations.words.security import CertificateUse, InstallCertificate
from csms.store.database import Database
from csms.store.fact import Fact
from csms.tasks import Tasks

log = logging.getLogger(__name__)

CERTIFICATE_WITHIN_S = 300.0
"""How long a station may take from our asking to the installed certificate."""

TAKEN = frozenset({CommandStatus.ACCEPTED, CommandStatus.SCHEDULED, CommandStatus.REBOOT_REQUIRED})


class SecurityUpgrades:
    """`doors`: the address (without identity) of each profile that we have a door for. Raises NotFound,
    Conflict, StationError. `root_pem` gives our root, by which a station is to know us."""

    def __init__(
        self,
        database: Database,
        clock: Clock,
        stations: StationsService,
        commands: Commands,
        signing: CertificateSigning,
        tasks: Tasks,
        *,
        doors: Callable[[], Mapping[Profile, str]],
        root_pem: Callable[[], str],
    ) -> None:
        self._records = SecurityRecords(database)
        self._clock = clock
        self._stations = stations
        self._commands = commands
        self._signing = signing
        self._tasks = tasks
        self._doors = doors
        self._root_pem = root_pem
        self._running: set[str] = set()
        self._came_meanwhile: dict[str, datetime] = {}
        self._installed: dict[str, asyncio.Event] = {}

    async def state(self, station_id: str) -> SecurityState:
        """Where it stands."""
        await self._stations.get(station_id)
        return await self._records.state(station_id)

    async def begin(self, station_id: str, wanted: Profile) -> SecurityState:
        """Begin, or begin again after a failure; goes on in the background."""
        station = await self._stations.get(station_id)
        state = await self.state(station_id)
        means = Means(has_key=station.has_key, connected=station.connected, doors=frozenset(self._doors()))
        check(state.standing, wanted, means)
        if station_id in self._running:
            raise Conflict("an upgrade of this station is under way")
        await self._keep(station, first(wanted), wanted=int(wanted))
        self._go_on(station_id)
        return await self.state(station_id)

    async def give_up(self, station_id: str) -> SecurityState:
        """No upgrade any more; what it has reached stays."""
        station = await self._stations.get(station_id)
        await self._keep(station, Step.FAILED, wanted=None, detail="given up by a person")
        return await self.state(station_id)

    async def set_back(self, station_id: str) -> SecurityState:
        """A person lets it come by any door again, e.g. after an exchange of the charger."""
        station = await self._stations.get(station_id)
        await self._keep(station, Step.NONE, wanted=None, in_use=None, detail="set back by a person")
        return await self.state(station_id)

    async def fact(self, _number: int, fact: Fact) -> None:
        """Follower of `station.`: connections, and certificates that were installed."""
        if fact.topic == "station.certificate" and (event := self._installed.get(fact.subject)):
            event.set()
        if fact.topic == "station.connected":
            await self._came(fact.subject, fact.at)

    async def _came(self, station_id: str, at: datetime) -> None:
        state = await self._records.state(station_id)
        if state.standing.wanted is None or state.step not in UNDER_WAY:
            return
        if station_id in self._running:
            # It was quicker than the answer that we wait for: looked at when that is over.
            self._came_meanwhile[station_id] = at
            return
        station = await self._stations.get(station_id)
        if state.step == Step.UNKNOWN:
            await self._keep(station, first(state.standing.wanted))
        if state.step == Step.WAITING and (state.changed_at is None or at > state.changed_at):
            detail = "it came back by the old door: it could not reach us by the new one"
            await self._keep(station, Step.FELL_BACK, detail=detail)
        elif state.step != Step.WAITING:
            self._go_on(station_id)

    def _go_on(self, station_id: str) -> None:
        self._running.add(station_id)
        self._came_meanwhile.pop(station_id, None)
        self._tasks.spawn(self._walk(station_id), f"security profile of {station_id}")

    async def _walk(self, station_id: str) -> None:
        try:
            while await self._step(station_id):
                pass
        finally:
            self._running.discard(station_id)
        if (at := self._came_meanwhile.pop(station_id, None)) is not None:
            await self._came(station_id, at)

    async def _step(self, station_id: str) -> bool:
        """One step; whether there is another."""
        station, state = await self._stations.get(station_id), await self.state(station_id)
        wanted = state.standing.wanted
        if wanted is None or state.step not in (Step.ROOT, Step.CERTIFICATE, Step.SWITCH):
            return False
        step = Step(state.step)
        doing = {Step.ROOT: self._root, Step.CERTIFICATE: self._certificate, Step.SWITCH: self._switch}[step]
        if step is Step.SWITCH:
            # Written first: the station may be gone, and back by the new door, before it has answered.
            await self._keep(station, Step.WAITING)
        try:
            outcome, detail = await doing(station, wanted)
        except StationError as error:
            outcome, detail = Outcome.SILENT, str(error)
        except PhaseyardError as error:
            outcome, detail = Outcome.REFUSED, str(error)
        following = follow(step, outcome, wanted)
        if step is Step.SWITCH and (await self.state(station_id)).step == Step.REACHED:
            return False
        if following is not Step.WAITING:
            await self._keep(station, following, detail=detail)
        return following in (Step.CERTIFICATE, Step.SWITCH)

    async def _root(self, station: Station, _wanted: Profile) -> tuple[Outcome, str]:
        return await self._ask(station, InstallCertificate(CertificateUse.CENTRAL_ROOT, self._root_pem()))

    async def _certificate(self, station: Station, _wanted: Profile) -> tuple[Outcome, str]:
        event = self._installed.setdefault(station.id, asyncio.Event())
        event.clear()
        try:
            outcome, detail = await self._ask(station, Trigger(TriggerKind.SIGN_STATION))
            if outcome is not Outcome.DONE:
                return outcome, detail
            waiting = asyncio.ensure_future(event.wait())
            late = asyncio.ensure_future(self._clock.sleep(CERTIFICATE_WITHIN_S))
            try:
                await asyncio.wait({waiting, late}, return_when=asyncio.FIRST_COMPLETED)
            finally:
                waiting.cancel()
                late.cancel()
            if event.is_set():
                return Outcome.DONE, ""
            return Outcome.SILENT, "it has not taken a certificate in time"
        finally:
            self._installed.pop(station.id, None)

    async def _switch(self, station: Station, wanted: Profile) -> tuple[Outcome, str]:
        if is_16(station.protocol):
            value = VariableValue(profile_path(station.protocol), str(int(wanted)))
            return await self._ask(station, SetVariables((value,)))
        told = await self._commands.ask(station.id, GetVariables((PRIORITY_PATH,)))
        slot, priority = new_priority(_value(told))
        steps: tuple[Command, ...] = (
            SetNetworkProfile(slot=slot, url=self._doors()[wanted], security_profile=int(wanted)),
            SetVariables((VariableValue(PRIORITY_PATH, priority),)),
            Reset(),
        )
        for command in steps:
            outcome, detail = await self._ask(station, command)
            if outcome is not Outcome.DONE:
                return outcome, detail
        return Outcome.DONE, ""

    async def _ask(self, station: Station, command: Command) -> tuple[Outcome, str]:
        result = await self._commands.ask(station.id, command)
        what = type(command).__name__
        if result.status in TAKEN:
            return Outcome.DONE, ""
        return Outcome.REFUSED, f"{what}: {result.detail or result.status.value}"

    async def _keep(self, station: Station, step: Step, **more: object) -> None:
        now = self._clock.now()
        values = {"step": step.value, "detail": "", **more}

        facts = []
        if step in (Step.FAILED, Step.FELL_BACK, Step.UNKNOWN):
            body = {"step": step.value, "detail": values["detail"]}
            topic = "station.security_upgrade"
            facts.append(Fact(topic=topic, at=now, site_id=station.site_id, subject=station.id, body=body))
        await self._records.keep(station.id, *facts, changed_at=now, **values)


def _value(result: CommandResult) -> str | None:
    if isinstance(result.data, tuple) and result.data and isinstance(result.data[0], VariableValue):
        return result.data[0].value
    return None
