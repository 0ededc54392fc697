"""A whole node on a database of either kind, and its manager at the REST interface.

The site is written by REST once per kind of database; every test begins with a copy of that.
"""

import logging
import shutil
from collections.abc import AsyncIterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from api.node import Node
from csms.clock import ManualClock, ScaledClock
from csms.settings import load_settings
from tests.postgresql import PostgreSQL
from tests.scenarios.charger import Charger
from tests.scenarios.charger16 import Charger16
from tests.scenarios.charger201 import Charger201
from tests.scenarios.rest import Rest
from tests.scenarios.rude import Yard
from tests.scenarios.site import SITE, STATIONS, make_site, password

EVENING = datetime(2026, 11, 12, 18, 30, tzinfo=UTC)
"""When the scenarios begin: a Thursday, half past seven at the site."""
SPEED = 4.0
"""Times as fast as real time, so that waiting for a car's 5 s does not take them."""

logging.getLogger("ocpp").setLevel(logging.CRITICAL)


def make_node(database_url: str, folder: Path) -> Node:
    """Both servers on free ports, in accelerated time."""
    settings = load_settings(
        data_dir=folder, database_url=database_url, host="127.0.0.1", http_port=0, ocpp_port=0
    )
    return Node(settings, ScaledClock(EVENING, SPEED))


async def write_site(database_url: str, folder: Path) -> None:
    node = make_node(database_url, folder)
    await node.start()
    async with Rest(node.http_url, await node.central.keys.create("writer")) as rest:
        await make_site(rest)
    await node.stop()


@pytest.fixture(scope="session")
async def sqlite_template(sqlite_template: Path) -> Path:
    """A file with all tables and the site, to be copied."""
    path = sqlite_template.with_name("corner.db")
    shutil.copyfile(sqlite_template, path)
    await write_site(f"sqlite+aiosqlite:///{path}", path.parent)
    return path


@pytest.fixture(scope="session")
async def postgresql_template(
    postgresql: PostgreSQL, postgresql_template: str, tmp_path_factory: pytest.TempPathFactory
) -> str:
    """Name of a database with all tables and the site, to be cloned."""
    postgresql.execute(f"CREATE DATABASE corner TEMPLATE {postgresql_template}")
    await write_site(postgresql.url("corner"), tmp_path_factory.mktemp("corner"))
    return "corner"


@pytest.fixture
async def node(database_url: str, tmp_path: Path) -> AsyncIterator[Node]:
    """A node that knows the site."""
    made = make_node(database_url, tmp_path)
    await made.start()
    yield made
    await made.stop()


@pytest.fixture
async def rest(node: Node) -> AsyncIterator[Rest]:
    """The manager of the site."""
    async with Rest(node.http_url, await node.central.keys.create("scenario")) as made:
        yield made


@pytest.fixture
async def chargers(node: Node) -> AsyncIterator[dict[str, Charger]]:
    """The site's stations by their version, connected to nothing yet."""
    kinds: dict[str, type[Charger]] = {"1.6": Charger16, "2.0.1": Charger201}
    made = {
        version: kinds[version](node.ocpp_url, station_id, password(station_id))
        for station_id, version in STATIONS.items()
    }
    yield made
    for charger in made.values():
        await charger.hang_up()


@pytest.fixture(scope="module")
async def yard(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> AsyncIterator[Yard]:
    """One node for all rude stations of a module, each of which is its own; its clock is moved by hand."""
    folder = tmp_path_factory.mktemp("yard")
    path = shutil.copyfile(sqlite_template, folder / "yard.db")
    clock = ManualClock(EVENING)
    settings = load_settings(
        data_dir=folder,
        database_url=f"sqlite+aiosqlite:///{path}",
        host="127.0.0.1",
        http_port=0,
        ocpp_port=0,
    )
    node = Node(settings, clock)
    await node.start()
    async with Rest(node.http_url, await node.central.keys.create("yard")) as rest:
        await rest.post("/members", {"id": "rude", "site_id": SITE, "name": "Owner of rude stations"})
        await rest.post("/rights", {"site_id": SITE, "member_id": "rude"})
        made = Yard(node, rest, clock)
        yield made
        await made.close()
    await node.stop()
