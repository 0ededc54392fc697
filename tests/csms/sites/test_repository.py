"""What is written of sites and circuits comes back as it was, on both databases."""

from datetime import time

import pytest

from csms.errors import NotFound
from csms.sites import repository
from csms.sites.model import (
    CapWindow,
    Circuit,
    CircuitMeter,
    Fairness,
    MeterCounts,
    Sharing,
    Site,
    System,
)
from csms.store.database import Database
from tests.conftest import NOON

SITE = Site(
    id="weavers-yard",
    name="Weavers' Yard",
    time_zone="Europe/Brussels",
    currency="EUR",
    system=System.IT_230,
    active=True,
    created_at=NOON,
    strategy=Sharing.PRIORITY,
    fairness=Fairness.KILOWATTS,
)
SUPPLY = Circuit(
    id="supply",
    site_id="weavers-yard",
    name="Supply",
    fed_from=None,
    limit_a=(62.5, 63, 0),
    device_a=63.0,
    cap_w=40_000,
    cap_windows=(CapWindow(time(17), time(20, 30), 20_000), CapWindow(time(23), time(5), 35_000)),
    unbalance_a=20.5,
    worst_base_a=(10.25, 0, 0),
    meter=CircuitMeter(MeterCounts.TOTAL, 2.5, {"kind": "mqtt", "topics": ["yard/supply"]}),
)
PLAIN = Circuit(id="board", site_id="weavers-yard", name="Board", fed_from="supply", limit_a=(16, 16, 0))


async def test_every_field_comes_back(database: Database) -> None:
    async with database.write() as connection:
        await repository.insert_site(connection, SITE)
        await repository.insert_circuit(connection, SUPPLY)
        await repository.insert_circuit(connection, PLAIN)
    async with database.read() as connection:
        assert await repository.get_site(connection, "weavers-yard") == SITE
        assert await repository.get_circuit(connection, "supply") == SUPPLY
        assert await repository.circuits_of(connection, "weavers-yard") == (PLAIN, SUPPLY)


async def test_what_is_not_there(database: Database) -> None:
    async with database.read() as connection:
        assert await repository.find_site(connection, "nowhere") is None
        assert await repository.find_circuit(connection, "none") is None
        with pytest.raises(NotFound, match="site nowhere"):
            await repository.get_site(connection, "nowhere")
        with pytest.raises(NotFound, match="circuit none"):
            await repository.get_circuit(connection, "none")


async def test_what_hangs_on_a_circuit(database: Database) -> None:
    async with database.write() as connection:
        await repository.insert_site(connection, SITE)
        await repository.insert_circuit(connection, SUPPLY)
        await repository.insert_circuit(connection, PLAIN)
        assert await repository.hanging_on(connection, "supply") == {"circuits": 1}
        assert await repository.hanging_on(connection, "board") == {}
