"""Which stations are connected to this node, and the way to them for the rest of the system.

The newest authenticated socket of a station wins: its epoch, given by the database, is the
highest. The older one is closed, and its end changes nothing.
"""

import logging
from collections.abc import Callable

from csms.errors import StationOffline
from csms.gateway.link import CLOSE_POLICY, CLOSE_TAKEN_OVER, Link
from csms.gateway.ports import Journal
from csms.gateway.takeovers import Takeovers
from csms.stations.commands import Command, CommandResult
from csms.stations.model import Registration

log = logging.getLogger(__name__)

Follower = Callable[[str, str, Command, CommandResult], None]
"""(station, version of the protocol, command, result)."""


class Registry:
    """The newest link of every station here."""

    def __init__(self, journal: Journal) -> None:
        self.takeovers = 0
        self._journal = journal
        self._takeovers = Takeovers()
        self._links: dict[str, Link] = {}
        self._followers: list[Follower] = []

    def follow(self, follower: Follower) -> None:
        """Have `follower` told of every command that was answered in time."""
        self._followers.append(follower)

    def __len__(self) -> int:
        return len(self._links)

    def __contains__(self, station_id: object) -> bool:
        return station_id in self._links

    @property
    def station_ids(self) -> frozenset[str]:
        """Stations that are connected now."""
        return frozenset(self._links)

    def link(self, station_id: str) -> Link | None:
        """The station's newest link."""
        return self._links.get(station_id)

    def add(self, link: Link, now_s: float = 0.0) -> tuple[str, ...]:
        """Enter a link that has been let in; of two, the one with the lower epoch is closed.

        Gives the addresses that take the identity from each other, when they do so too often.
        """
        using: tuple[str, ...] = ()
        older = self._links.get(link.station_id)
        if older is not None:
            self.takeovers += 1
            using = self._takeovers.note(link.station_id, older.address, link.address, now_s)
            if older.epoch > link.epoch:
                older, link = link, older
            older.hang_up(CLOSE_TAKEN_OVER, "a newer connection of this station")
            log.warning("%s has connected again: epoch %d after %d", link.station_id, link.epoch, older.epoch)
        self._links[link.station_id] = link
        return using

    def remove(self, link: Link) -> None:
        """Take out a link that has ended, unless a newer one has its place."""
        if self._links.get(link.station_id) is link:
            del self._links[link.station_id]

    async def ask(
        self,
        station_id: str,
        command: Command,
        *,
        timeout_s: float | None = None,
        ttl_s: float | None = None,
        asked_by: str = "",
        routine: bool = False,
    ) -> CommandResult:
        """Send `command` to the station and wait for the answer.

        `timeout_s` counts from the sending, `ttl_s` is how long it may wait behind others; both in
        seconds, those of the settings by default; what is `routine` is not journaled. Raises
        StationOffline when nothing was sent, StationSilent when no answer came in time: whether
        it acted is unknown then.
        """
        link = self._links.get(station_id)
        if link is not None:
            result = await link.ask(
                command, timeout_s=timeout_s, ttl_s=ttl_s, asked_by=asked_by, routine=routine
            )
            for follower in self._followers:
                follower(station_id, link.version.value, command, result)
            return result
        if asked_by:
            # What people asked is kept; what Phaseyard asks by itself it will ask again.
            await self._journal.offline(await self._journal.asked(station_id, command, asked_by=asked_by))
        raise StationOffline(station_id)

    async def registration_changed(self, station_id: str, registration: Registration) -> None:
        """Someone decided about the station. One that waited is asked to boot, to learn of it.

        Does not wait for the station.
        """
        link = self._links.get(station_id)
        if link is None or link.registration is registration:
            return
        if registration is Registration.ACCEPTED:
            link.ask_to_boot()
        else:
            link.registration = registration

    def disconnect(self, station_id: str, reason: str) -> None:
        """Close the station's socket, e.g. because its key was changed or it was deleted."""
        link = self._links.get(station_id)
        if link is not None:
            link.hang_up(CLOSE_POLICY, reason)
