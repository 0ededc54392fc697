"""The gateway's registry is a way to stations; mypy looks at this."""

import pytest

from csms.errors import StationOffline
from csms.gateway.registry import Registry
from csms.stations.asking import Commands
from csms.stations.commands import Reset


class Diary:
    """A journal that nothing is written to here."""


async def test_the_registry_fits_and_says_who_is_off_line() -> None:
    way: Commands = Registry(Diary())  # type: ignore[arg-type]
    with pytest.raises(StationOffline) as caught:
        await way.ask("BAY-01", Reset())
    assert caught.value.station_id == "BAY-01"
