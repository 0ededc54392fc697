"""How offers reach the stations: as profiles, over whatever they speak (`controller.Stations`)."""

import logging
from typing import Protocol

from csms.errors import StationError
from csms.power.installation import Evse
from csms.power.steering.decision import StopSession
from csms.power.steering.profile import Offer, charging_profile
from csms.power.steering.promises import Outcome
from csms.stations.commands import (
    Command,
    CommandResult,
    CommandStatus,
    GetComposite,
    SetProfile,
    StopCharging,
)
from csms.stations.model import CompositeSchedule, RateUnit

log = logging.getLogger(__name__)

READ_BACK_S = 60


class Commands(Protocol):
    """The way to a station (`csms.gateway.registry`). `routine`: not for the journal."""

    async def ask(self, station_id: str, command: Command, *, routine: bool = False) -> CommandResult: ...

    @property
    def station_ids(self) -> frozenset[str]: ...


class Offering:
    """Sends to stations. What people ask is journaled, offers are routine and are not."""

    def __init__(self, commands: Commands) -> None:
        self._commands = commands

    async def set_offer(self, offer: Offer) -> Outcome:
        """Have the station hold the offer. Raises StationOffline, StationSilent."""
        command = SetProfile(offer.evse.evse_id, charging_profile(offer))
        result = await self._commands.ask(offer.evse.station_id, command, routine=True)
        if result.status is CommandStatus.ACCEPTED:
            return Outcome.ACCEPTED
        log.info("%s does not take %s: %s %s", offer.evse, offer.purpose, result.status, result.detail)
        return Outcome.REFUSED

    async def read_back(self, evse: Evse) -> float | None:
        """What the EVSE says that it holds now, in A; None: it does not say."""
        command = GetComposite(evse.evse_id, READ_BACK_S)
        result = await self._commands.ask(evse.station_id, command, routine=True)
        said = result.data
        if not result.accepted or not isinstance(said, CompositeSchedule) or said.unit is not RateUnit.AMPERE:
            return None  # also a station that tells of no limit: without a car it need not know one
        return max((period.limit for period in said.periods), default=None)

    async def stop_session(self, stop: StopSession) -> None:
        """End a transaction that does not take a lowering."""
        try:
            await self._commands.ask(stop.evse.station_id, StopCharging(stop.transaction))
        except StationError as error:
            log.warning("%s could not be stopped: %s", stop.evse, error)
