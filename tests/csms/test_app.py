"""The whole, made once and started in order."""

import contextlib
import socket

import pytest

from csms.app import Central
from csms.clock import ManualClock
from csms.settings import Settings
from csms.sites.model import System
from csms.stations.events import EVENTS
from csms.stations.questions import QUESTIONS


def central(database_url: str, clock: ManualClock, *, ocpp_port: int = 0) -> Central:
    return Central(Settings(database_url=database_url, host="127.0.0.1", ocpp_port=ocpp_port), clock)


def test_whatever_a_station_says_or_asks_has_an_owner(clock: ManualClock) -> None:
    made = central("sqlite+aiosqlite:///unused.db", clock)
    assert made.dispatcher.unowned((*QUESTIONS, *EVENTS)) == []


async def test_it_listens_between_start_and_stop(database_url: str, clock: ManualClock) -> None:
    made = central(database_url, clock)
    await made.start()
    port = made.ocpp_port
    with contextlib.closing(socket.create_connection(("127.0.0.1", port), 10)):
        pass
    await made.stop()
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.1", port), 10)


async def test_after_a_restart_no_station_counts_as_connected(database_url: str, clock: ManualClock) -> None:
    first = central(database_url, clock)
    await first.start()
    await first.sites.create_site(
        id="yard", name="The yard", time_zone="Europe/Oslo", currency="NOK", system=System.TN_400
    )
    await first.stations.create(id="garage-1", site_id="yard")
    await first.stop()
    second = central(database_url, clock)
    await second.start()
    station = await second.stations.get("garage-1")
    assert not station.connected
    await second.stop()


async def test_a_port_that_is_taken_leaves_nothing_running(database_url: str, clock: ManualClock) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        made = central(database_url, clock, ocpp_port=taken.getsockname()[1])
        with pytest.raises(OSError, match="in use"):
            await made.start()
    again = central(database_url, clock)
    await again.start()
    await again.stop()
