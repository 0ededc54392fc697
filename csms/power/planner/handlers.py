"""What cars tell through their chargers: the owner of NeedsReported."""

from datetime import datetime

from csms.dispatch import Dispatcher
from csms.power.planner.need import FULL_PERCENT, LARGEST_WH, Source, Told
from csms.power.planner.needs_service import NeedsService
from csms.power.planner.planner_service import PlannerService
from csms.power.planner.repository import CarNeed
from csms.sessions.service import SessionsService
from csms.sessions.session import Session
from csms.stations.words.needs import NeedsAnswer, NeedsReported, NeedsVerdict


class NeedsHandlers:
    """Keeps what a car told; its site is planned anew."""

    def __init__(self, needs: NeedsService, planner: PlannerService, sessions: SessionsService) -> None:
        self._needs = needs
        self._planner = planner
        self._sessions = sessions

    def register(self, dispatcher: Dispatcher) -> None:
        dispatcher.handle(NeedsReported, self.told)

    async def told(self, station_id: str, question: NeedsReported, now: datetime) -> NeedsAnswer:
        """ACCEPTED: the charge is known, and a new limit follows soon. PROCESSING: it is kept for a charge
        that has not begun. REJECTED: nothing is planned at the station's site, or the EVSE is none."""
        site_id = self._planner.plans(station_id)
        if site_id is None or question.evse <= 0:
            return NeedsAnswer(NeedsVerdict.REJECTED)
        session = await self._session(site_id, station_id, question.evse)
        at_wh = 0 if session is None else session.energy_wh
        energy_wh, to_percent = _sound(question.energy_wh), None
        if energy_wh is None and question.soc_percent is not None:
            to_percent = question.to_percent or FULL_PERCENT
        await self._needs.car_told(
            CarNeed(
                station_id=station_id,
                evse=question.evse,
                told_at=now,
                session_id=None if session is None else session.id,
                told=Told(
                    source=Source.CAR,
                    departure=question.departure,
                    energy_wh=energy_wh,
                    to_percent=to_percent,
                    battery_wh=_sound(question.battery_wh),
                    soc_percent=question.soc_percent,
                    from_wh=at_wh,
                    at_wh=at_wh,
                ),
            )
        )
        self._planner.poke(site_id, "a car has told its need")
        return NeedsAnswer(NeedsVerdict.PROCESSING if session is None else NeedsVerdict.ACCEPTED)

    async def _session(self, site_id: str, station_id: str, evse: int) -> Session | None:
        found = await self._sessions.open_sessions(site_id)
        return next((s for s in found if s.station_id == station_id and s.evse in (None, evse)), None)


def _sound(energy_wh: int | None) -> int | None:
    """An energy that a car can mean; some say 0 where they know nothing."""
    return energy_wh if energy_wh is not None and 0 < energy_wh <= LARGEST_WH else None
