"""Site files in and out of the database: all of a file or nothing of it."""

from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import insert

from csms.clock import ManualClock
from csms.errors import Conflict, InvalidInput, ManyInvalid, NotFound
from csms.power.proof_service import SafetyProof
from csms.sitefile.service import SiteFiles, site_files
from csms.sites.service import SitesService
from csms.stations.service import StationsService
from csms.store.database import Database
from csms.store.tables.sessions import session
from tests.conftest import NOON
from tests.csms.yard import facts

MAIN = "id: main, limit_a: 63, worst_base_a: 22"
BOARD = "id: board, fed_from: main, limit_a: 40"
BAY = "identity: B1, serial: WY-1, circuit: board, fallback_a: 6, evses: 2"
Text = Callable[..., str]
DEMO = Path("tools/weavers_yard/weavers-yard.yaml").read_text()


@pytest.fixture
def sites(database: Database, clock: ManualClock) -> SitesService:
    return SitesService(database, clock)


@pytest.fixture
def stations(database: Database, clock: ManualClock, sites: SitesService) -> StationsService:
    return StationsService(database, clock, sites)


@pytest.fixture
def files(
    database: Database, clock: ManualClock, sites: SitesService, stations: StationsService
) -> SiteFiles:
    proof = SafetyProof(sites, stations, 8.0)
    sites.prove_by(proof)
    stations.prove_by(proof)
    return SiteFiles(database, clock, sites=sites, stations=stations, proof=proof)


async def test_a_file_comes_in_once_and_goes_out_as_it_was(
    files: SiteFiles, sites: SitesService, stations: StationsService, site_text: Text, database: Database
) -> None:
    text = site_text([BOARD, MAIN], [BAY, "identity: B2, circuit: main"])
    done = await files.bring_in(text)
    assert (done.site_id, set(done.touched)) == ("yard", {"yard", "main", "board", "B1", "B2"})
    assert (done.untouched, done.report.safe) == ((), True)
    assert not (await sites.get_site("yard")).active
    assert (await stations.get("B1")).expected_serial == "WY-1"
    assert len(await stations.evses("B1")) == 2
    told = len(await facts(database))
    again = await files.bring_in(text)
    assert again.touched == ()
    assert len(await facts(database)) == told
    written = await files.write_out("yard")
    assert (await files.bring_in(written)).touched == ()
    assert await files.write_out("yard") == written


async def test_what_the_file_does_not_name_stays(
    files: SiteFiles, stations: StationsService, site_text: Text
) -> None:
    await files.bring_in(site_text([MAIN, BOARD], [BAY]))
    done = await files.bring_in(site_text([MAIN], ["identity: B2, circuit: main, name: Bay 2"]))
    assert (done.touched, done.untouched) == (("B2",), ("board", "B1"))
    changed = await files.bring_in(site_text([MAIN], ["identity: B2, circuit: main, fallback_a: 6"]))
    assert changed.touched == ("B2",)
    assert ((await stations.get("B2")).name, (await stations.get("B2")).fallback_a) == ("", 6.0)


async def test_a_faulty_or_unsafe_file_is_refused_with_all_its_faults(
    files: SiteFiles, sites: SitesService, site_text: Text
) -> None:
    with pytest.raises(ManyInvalid) as error:
        await files.bring_in(
            site_text(["id: main, limit_a: 25, worst_base_a: 22", "id: x, limit_a: -1"], [BAY])
        )
    assert [place for place, _ in error.value.faults] == ["4:5", "4:22", "6:43"]
    with pytest.raises(ManyInvalid) as unsafe:
        await files.bring_in(
            site_text(
                ["id: main, limit_a: 25, worst_base_a: 22"], ["identity: B1, circuit: main, fallback_a: 6"]
            )
        )
    assert [place for place, _ in unsafe.value.faults] == ["3:25"] * 3
    with pytest.raises(NotFound):
        await sites.get_site("yard")


async def test_an_active_site_is_kept_safe_and_nothing_is_half_done(
    files: SiteFiles, sites: SitesService, stations: StationsService, site_text: Text
) -> None:
    """The file alone is safe; with B1, which it does not name, it would not be."""
    await files.bring_in(site_text([MAIN, BOARD], [BAY]))
    await sites.set_active("yard", True)
    others = [f"identity: C{n}, circuit: main, fallback_a: 15" for n in range(2)]
    with pytest.raises(Conflict, match="main L1: fallbacks and base load make 64 A of 63 A"):
        await files.bring_in(site_text(["id: main, name: Other, limit_a: 63, worst_base_a: 22"], others))
    assert (await sites.get_circuit("main")).name == "main"
    assert [station.id for station in await stations.stations_of("yard")] == ["B1"]
    # Lower here and higher there in one file is one change.
    await files.bring_in(site_text([MAIN, BOARD], [BAY.replace("6", "0"), *others]))
    assert len(await stations.stations_of("yard")) == 3


async def test_a_station_is_not_moved_under_a_plugged_in_car(
    files: SiteFiles, database: Database, site_text: Text, stations: StationsService
) -> None:
    await files.bring_in(site_text([MAIN, BOARD], [BAY]))
    async with database.write() as connection:
        await connection.execute(
            insert(session).values(
                station_id="B1", evse=1, state="suspended", started_at=NOON, arrived_at=NOON, marks=[]
            )
        )
    with pytest.raises(Conflict, match="a car is plugged in at station B1"):
        await files.bring_in(site_text([MAIN, BOARD], [BAY.replace("board", "main")]))
    assert (await stations.get("B1")).circuit_id == "board"
    assert (await files.bring_in(site_text([MAIN, BOARD], [BAY + ", name: Bay 1"]))).touched == ("B1",)


async def test_a_serial_that_another_site_expects_is_told_at_its_place(
    files: SiteFiles, site_text: Text
) -> None:
    await files.bring_in(site_text([MAIN], ["identity: B1, circuit: main, serial: WY-1"]))
    other = site_text(["id: m2, limit_a: 63"], ["identity: B2, circuit: m2, serial: WY-1"])
    with pytest.raises(InvalidInput) as error:
        await files.bring_in(other.replace("id: yard", "id: barn"))
    assert error.value.field == "5:5"
    assert "stations[0].expected_serial: 'WY-1' is expected at B1 already" in error.value.problem


async def test_for_a_command_there_is_the_same_with_the_database_alone(
    database: Database, clock: ManualClock
) -> None:
    text = DEMO
    made = site_files(database, clock, 8.0)
    assert len((await made.bring_in(text)).touched) == 1 + 3 + 24
    # Comments apart, the demo's file is what we write ourselves.
    lines = [line for line in text.splitlines() if not line.startswith("#") and line.strip()]
    assert [line for line in (await made.write_out("weavers-yard")).splitlines() if line.strip()] == lines
