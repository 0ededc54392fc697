"""Whose car stands where an alarm is: so that the member is told too."""

from datetime import timedelta

from csms.access.members.service import MembersService
from csms.clock import Clock
from csms.errors import NotFound
from csms.sessions.service import SessionsService
from csms.sessions.session import SessionFilter

JUST_ENDED = timedelta(minutes=15)
"""A fault ends the session; its member still has the car there."""


class ConcernedMembers:
    """Looks up mail addresses."""

    def __init__(self, clock: Clock, sessions: SessionsService, members: MembersService) -> None:
        self._clock = clock
        self._sessions = sessions
        self._members = members

    async def addresses(self, station_id: str, evse: int | None) -> tuple[str, ...]:
        """Of the members whose sessions run there, or ended just now; those who gave none are left out."""
        now = self._clock.now()
        found = set()
        for session in (await self._sessions.list(SessionFilter(station_id=station_id), limit=20)).items:
            here = evse is None or session.evse in (None, evse)
            ended = session.ended_at
            late = not session.open and (ended is None or now - ended > JUST_ENDED)
            if not here or late or session.member_id is None:
                continue
            try:
                found.add((await self._members.get(session.member_id)).email)
            except NotFound:
                continue
        return tuple(sorted(found - {""}))
