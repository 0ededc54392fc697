"""A station gets a new key, is led from security profile 1 to 2 to 3, and is cut off on its way."""

import asyncio
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest

from api.node import Node
from csms.settings import load_settings
from csms.stations.security.profile import Way
from tests.scenarios.rest import Rest, until
from tests.scenarios.secure_station import SecureStation
from tests.scenarios.site import STATIONS, password

VERSIONS = pytest.mark.parametrize("version", ["1.6", "2.0.1"])


@pytest.fixture
async def node(database_url: str, tmp_path: Path) -> AsyncIterator[Node]:
    """A node with all three doors, in real time: TLS looks at the machine's clock."""
    settings = load_settings(
        data_dir=tmp_path,
        database_url=database_url,
        host="127.0.0.1",
        http_port=0,
        ocpp_port=0,
        ocpp_tls_port=0,
        ocpp_mutual_tls_port=0,
        operator="Weavers' Yard",
    )
    made = Node(settings)
    await made.start()
    yield made
    await made.stop()


@pytest.fixture
async def station(node: Node, rest: Rest, version: str, tmp_path: Path) -> AsyncIterator[SecureStation]:
    station_id = next(each for each, spoken in STATIONS.items() if spoken == version)
    gateway = node.central.gateway
    doors = {int(way): gateway.port_of(way) for way in Way}
    key = password(station_id)
    if version == "1.6":
        key = "00112233445566778899AABBCCDDEEFF00112233"
        await rest.post(f"/stations/{station_id}/key", {"key": key})
    folder = tmp_path / "station"
    folder.mkdir()
    made = SecureStation(version, station_id, key, doors, folder)
    living = asyncio.ensure_future(made.live())
    await until(lambda: connected(rest, station_id), "the station is connected")
    yield made
    living.cancel()
    await asyncio.gather(living, return_exceptions=True)


async def connected(rest: Rest, station_id: str) -> bool | None:
    return (await rest.get(f"/stations/{station_id}"))["connected"] or None


async def security(rest: Rest, station: SecureStation, **wanted: Any) -> dict[str, Any]:
    """What REST shows once it is as wanted."""

    async def shown() -> dict[str, Any] | None:
        found = await rest.get(f"/stations/{station.station_id}/security")
        return found if all(found[name] == value for name, value in wanted.items()) else None

    try:
        return await until(shown, f"{wanted}", 60)
    except AssertionError as error:
        now = await rest.get(f"/stations/{station.station_id}/security")
        told = f"{now}, came by {station.came_by}, refused {station.refused}"
        raise AssertionError(f"{error}: {told}") from None


@VERSIONS
async def test_up_to_a_certificate_and_not_down_again(station: SecureStation, rest: Rest) -> None:
    address = f"/stations/{station.station_id}/security/upgrade"
    await rest.send("POST", address, {"profile": 2})
    await security(rest, station, in_use=2, step="reached", wanted=None)
    await rest.send("POST", address, {"profile": 3})
    shown = await security(rest, station, in_use=3, step="reached", wanted=None)
    (certificate,) = shown["certificates"]
    assert (certificate["state"], certificate["common_name"]) == ("installed", station.station_id)
    assert sorted(set(station.came_by)) == [1, 2, 3]
    lower = await rest.answer("POST", address, {"profile": 2})
    assert (lower.status_code, "only a higher one" in lower.text) == (409, True)
    station.profile = 1
    assert station._socket is not None
    await station._socket.close()
    await until(lambda: _some(station.refused), "it is refused by the lower door")
    assert set(station.refused) == {403}
    await until(lambda: connected(rest, station.station_id), "it is back by its certificate")


async def _some(found: list[int]) -> list[int] | None:
    return found or None


@VERSIONS
async def test_cut_off_half_way_it_goes_on_when_it_is_back(station: SecureStation, rest: Rest) -> None:
    station.deaf_to = "ExtendedTriggerMessage" if station.version == "1.6" else "TriggerMessage"
    # 1.6 stations may know the one or the other.
    await rest.send("POST", f"/stations/{station.station_id}/security/upgrade", {"profile": 3})
    await security(rest, station, in_use=3, step="reached")
    assert station.deaf_to == "", "it did hang up half-way"
    assert station.came_by.count(1) >= 2, "and came back by the old door"


@VERSIONS
async def test_one_that_cannot_reach_the_new_door_falls_back_and_people_are_told(
    station: SecureStation, rest: Rest
) -> None:
    station.wrong_door = True
    await rest.send("POST", f"/stations/{station.station_id}/security/upgrade", {"profile": 2})
    shown = await security(rest, station, step="fell_back")
    assert (shown["in_use"], shown["wanted"]) == (None, 2)

    async def alarm() -> dict[str, Any] | None:
        found = (await rest.get("/alarms?kind=upgrade_failed"))["items"]
        return found[0] if found else None

    assert (await until(alarm, "an alarm"))["station_id"] == station.station_id
    station.wrong_door = False
    await rest.send("POST", f"/stations/{station.station_id}/security/upgrade", {"profile": 2})
    await security(rest, station, in_use=2, step="reached")


@VERSIONS
async def test_a_new_key_takes_the_place_of_the_old_one_when_it_was_used(
    station: SecureStation, rest: Rest
) -> None:
    old = station.key
    assert await rest.post(f"/stations/{station.station_id}/security/key") == {"outcome": "accepted"}
    assert station.key != old
    assert (await security(rest, station))["key_waits"]
    assert station._socket is not None
    await station._socket.close()
    await security(rest, station, key_waits=False)
    journal = await rest.every(f"/stations/{station.station_id}/commands")
    assert station.key not in str(journal), "nobody sees the key"
    new, station.key = station.key, old
    await station._socket.close()
    await until(lambda: _some(station.refused), "the old key is refused")
    assert set(station.refused) == {401}
    station.key = new
    await until(lambda: connected(rest, station.station_id), "and the new one is right")
