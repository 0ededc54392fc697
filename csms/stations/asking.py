"""The way to stations for a feature that asks them something: `csms.gateway.registry` fits."""

from typing import Protocol

from csms.stations.commands import Command, CommandResult


class Commands(Protocol):
    """Asks stations. Raises StationError."""

    async def ask(self, station_id: str, command: Command, *, asked_by: str = "") -> CommandResult: ...
