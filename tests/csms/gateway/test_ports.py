from csms.clock import ManualClock
from csms.dispatch import Dispatcher
from csms.gateway.ports import Journal, Owners, Quarantine, Stations
from csms.stations.journal.service import CommandJournal
from csms.stations.quarantine.service import QuarantineService
from csms.stations.sockets.service import SocketsService
from csms.store.database import Database
from tests.csms.gateway.stage import Answerer, Diary, Shelf, Yard


async def test_the_services_and_the_test_counterparts_fit(database: Database, clock: ManualClock) -> None:
    """That they do is for the type checker to say; that the real one answers is seen here."""
    journal = CommandJournal(database, clock)
    stations: list[Stations] = [SocketsService(database, clock, journal), Yard()]
    journals: list[Journal] = [journal, Diary()]
    quarantines: list[Quarantine] = [QuarantineService(database), Shelf()]
    owners: list[Owners] = [Dispatcher(), Answerer(clock)]
    assert [await one.identify("BAY-99") for one in stations] == [None, None]
    assert {len(both) for both in (journals, quarantines, owners)} == {2}
