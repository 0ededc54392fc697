"""A whole node on a database of either kind, and its manager at the REST interface."""

import logging
from collections.abc import AsyncIterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from api.node import Node
from csms.clock import ScaledClock
from csms.settings import load_settings
from tests.scenarios.charger import Charger
from tests.scenarios.charger16 import Charger16
from tests.scenarios.charger201 import Charger201
from tests.scenarios.rest import Rest
from tests.scenarios.site import STATIONS, make_site, password

EVENING = datetime(2026, 11, 12, 18, 30, tzinfo=UTC)
"""When the scenarios begin: a Thursday, half past seven at the site."""
SPEED = 4.0
"""Times as fast as real time, so that waiting for a car's 5 s does not take them."""

logging.getLogger("ocpp").setLevel(logging.CRITICAL)


@pytest.fixture
async def node(database_url: str, tmp_path: Path) -> AsyncIterator[Node]:
    """Both servers on free ports, in accelerated time."""
    settings = load_settings(
        data_dir=tmp_path, database_url=database_url, host="127.0.0.1", http_port=0, ocpp_port=0
    )
    made = Node(settings, ScaledClock(EVENING, SPEED))
    await made.start()
    yield made
    await made.stop()


@pytest.fixture
async def rest(node: Node) -> AsyncIterator[Rest]:
    """The manager, with a site of two stations."""
    async with Rest(node.http_url, await node.central.keys.create("scenario")) as made:
        await make_site(made)
        yield made


@pytest.fixture
async def chargers(node: Node, rest: Rest) -> AsyncIterator[dict[str, Charger]]:
    """The site's stations by their version, connected to nothing yet."""
    kinds: dict[str, type[Charger]] = {"1.6": Charger16, "2.0.1": Charger201}
    made = {
        version: kinds[version](node.ocpp_url, station_id, password(station_id))
        for station_id, version in STATIONS.items()
    }
    yield made
    for charger in made.values():
        await charger.hang_up()
