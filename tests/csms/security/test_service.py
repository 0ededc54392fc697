"""The parts together."""

from collections.abc import Callable
from pathlib import Path

from csms.clock import ManualClock
from csms.security.service import SecuritySettings, StationSecurity
from csms.stations.security.profile import Profile, Way
from csms.stations.service import StationsService
from csms.store.database import Database
from csms.tasks import Tasks
from tests.csms.security.conftest import Talkative

PORTS = {Way.PLAIN: 9210, Way.TLS: 9211, Way.MUTUAL: 9212}


def opened(*ways: Way) -> Callable[[], dict[Way, int]]:
    return lambda: {way: PORTS[way] for way in (Way.PLAIN, *ways)}


def test_only_the_doors_that_are_set_have_addresses(
    yard: Database,
    clock: ManualClock,
    stations: StationsService,
    commands: Talkative,
    tasks: Tasks,
    tmp_path: Path,
) -> None:
    def made(tls: int | None, mutual: int | None) -> StationSecurity:
        wanted = [way for way, port in ((Way.TLS, tls), (Way.MUTUAL, mutual)) if port is not None]
        settings = SecuritySettings(
            folder=tmp_path,
            names=("yard.weavers.example",),
            organization="Weavers' Yard",
            tls_port=tls,
            mutual_port=mutual,
        )
        return StationSecurity(yard, clock, settings, stations, commands, tasks, opened(*wanted))

    assert made(None, None).addresses() == {Profile.KEY: "ws://yard.weavers.example:9210/ocpp/"}
    both = made(0, 0)
    assert both.doors == ((Way.TLS, 0), (Way.MUTUAL, 0))
    assert both.addresses()[Profile.CERTIFICATE] == "wss://yard.weavers.example:9212/ocpp/"
    none = made(None, None)
    none.start()
    assert len(tasks) == 0, "without doors there is nothing to renew"
