"""Gives a station a new key, so that whatever happens half-way it can still come in.

The new key is written down beside the old one before it is sent. What the station answers decides:
refused, and the new one is dropped; accepted or silent, and both are right until the station has come
by the new one (`csms.stations.sockets`), which ends the old one.
"""

import secrets

from csms.clock import Clock
from csms.errors import Conflict, StationOffline, StationSilent
from csms.ids import new_secret
from csms.security.variables import is_16, key_path
from csms.stations.asking import Commands
from csms.stations.commands import SetVariables
from csms.stations.credentials import SALT_BYTES, store_key
from csms.stations.model import VariableValue
from csms.stations.security.service import SecurityRecords
from csms.stations.service import StationsService
from csms.store.database import Database

KEY_BYTES = 20
"""OCPP-J 1.6 6.2.2: twenty bytes, written as forty digits."""


class StationKeys:
    """Raises NotFound, Conflict, StationOffline."""

    def __init__(
        self, database: Database, clock: Clock, stations: StationsService, commands: Commands
    ) -> None:
        self._records = SecurityRecords(database)
        self._clock = clock
        self._stations = stations
        self._commands = commands

    async def rotate(self, station_id: str, *, by: str = "") -> str:
        """Send a new random key; "accepted", or "unknown" when the station has not answered.

        Nobody sees the key, not even whoever asked. Conflict when the station refused it: the old
        one stays.
        """
        station = await self._stations.get(station_id)
        if not station.connected:
            raise StationOffline(station_id)
        text = secrets.token_hex(KEY_BYTES) if is_16(station.protocol) else new_secret()
        key = store_key(text, secrets.token_bytes(SALT_BYTES))
        await self._keep(station_id, "key_sent", next_key_salt=key.salt, next_key_hash=key.hash)
        command = SetVariables((VariableValue(key_path(station.protocol), text),))
        try:
            result = await self._commands.ask(station_id, command, asked_by=by)
        except StationSilent:
            # It may have taken it: both stay right.
            await self._keep(station_id, "key_unknown", detail="it has not answered")
            return "unknown"
        except StationOffline:
            await self._drop(station_id, "key_not_sent", "it is not connected")
            raise
        if result.accepted or result.status.value == "reboot_required":
            await self._keep(station_id, "key_accepted", detail=result.detail)
            return "accepted"
        await self._drop(station_id, "key_refused", result.detail)
        raise Conflict(f"the station refuses a new key: {result.detail or result.status.value}")

    async def _drop(self, station_id: str, step: str, detail: str) -> None:
        await self._keep(station_id, step, detail=detail, next_key_salt=None, next_key_hash=None)

    async def _keep(self, station_id: str, step: str, **values: object) -> None:
        await self._records.keep(station_id, changed_at=self._clock.now(), step=step, **values)
