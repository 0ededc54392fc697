"""What the security of stations needs of the rest."""

from typing import Protocol

from csms.stations.commands import Command, CommandResult


class Commands(Protocol):
    """Asks stations. Raises StationError."""

    async def ask(self, station_id: str, command: Command, *, asked_by: str = "") -> CommandResult: ...
