"""Readings that somebody pushes: `POST /v1/circuits/{id}/readings`."""

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar, Self

from csms.metering.meter_input import Ear, known


@dataclass(frozen=True, slots=True)
class RestInput:
    """There is nothing to set."""

    kind: ClassVar[str] = "rest"

    @classmethod
    def parse(cls, fields: Mapping[str, object], path: str) -> Self:
        known(fields, path)
        return cls()

    async def listen(self, ear: Ear) -> None:
        """Readings come by `BuildingService.push`: there is nothing to fetch."""
        await asyncio.Event().wait()
