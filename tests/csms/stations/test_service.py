"""What people keep of stations, on both databases."""

from collections.abc import Awaitable, Callable
from typing import Any

import pytest
from sqlalchemy import insert

from csms.clock import ManualClock
from csms.errors import Conflict, InvalidInput, NotFound
from csms.stations.credentials import key_matches
from csms.stations.journal.service import CommandJournal
from csms.stations.model import EvseStatus, Registration
from csms.stations.record import Evse
from csms.stations.service import StationsService
from csms.stations.sockets.service import SocketsService
from csms.store.database import Database
from csms.store.tables.sessions import session
from tests.conftest import NOON

Facts = Callable[[str], Awaitable[list[dict[str, Any]]]]


async def test_a_station_is_created_accepted_and_told_of(stations: StationsService, facts: Facts) -> None:
    made = await stations.create(
        id="BAY-07",
        name="Bay 7",
        site_id="weavers-yard",
        circuit_id="supply",
        evses=2,
        wiring=("L2", "L3", "L1"),
        max_current_a=20.5,
        step_a=0.1,
        fallback_a=6.5,
        can_choose_line=True,
        keeps_profiles=False,
    )
    assert await stations.get("BAY-07") == made
    assert made.registration is Registration.ACCEPTED
    assert (made.wiring, made.max_current_a, made.step_a, made.fallback_a) == (
        ("L2", "L3", "L1"),
        20.5,
        0.1,
        6.5,
    )
    assert (made.can_choose_line, made.keeps_profiles, made.has_key, made.connected) == (
        True,
        False,
        False,
        False,
    )
    assert made.created_at == NOON
    assert await stations.evses("BAY-07") == (
        Evse(station_id="BAY-07", number=1, status=EvseStatus.UNAVAILABLE, status_at=None),
        Evse(station_id="BAY-07", number=2, status=EvseStatus.UNAVAILABLE, status_at=None),
    )
    assert await stations.whole("BAY-07") is None
    assert await facts("station.") == [
        {
            "topic": "station.created",
            "subject": "BAY-07",
            "site_id": "weavers-yard",
            "station": "Bay 7",
        }
    ]


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"id": "BAY:7"}, "id"),
        ({"site_id": "mill"}, "site_id"),
        ({"circuit_id": "cellar"}, "circuit_id"),
        ({"site_id": None}, "site_id"),
        ({"wiring": ("L1", "L2", "L2")}, "wiring[2]"),
        ({"max_current_a": -16.0}, "max_current_a"),
        ({"fallback_a": 3.0}, "fallback_a"),
        ({"step_a": 2.0}, "step_a"),
        ({"evses": 0}, "evses"),
        ({"key": "short"}, "key"),
    ],
)
async def test_bad_input_names_the_field_and_keeps_nothing(
    stations: StationsService, changes: dict[str, Any], field: str
) -> None:
    given: dict[str, Any] = {"id": "BAY-07", "site_id": "weavers-yard", "circuit_id": "supply"}
    with pytest.raises(InvalidInput) as caught:
        await stations.create(**(given | changes))
    assert caught.value.field == field
    assert (await stations.list()).items == ()


async def test_an_identity_is_there_once(stations: StationsService, bay: str) -> None:
    with pytest.raises(Conflict, match="BAY-01"):
        await stations.create(id=bay)


async def test_a_circuit_of_another_site_is_refused(stations: StationsService, bay: str) -> None:
    with pytest.raises(InvalidInput, match="circuit_id"):
        await stations.update(bay, circuit_id="cellar")
    with pytest.raises(InvalidInput, match="site_id"):
        await stations.update(bay, site_id="mill")
    with pytest.raises(InvalidInput, match="site_id"):
        await stations.update(bay, site_id=None)
    assert (await stations.get(bay)).circuit_id == "supply"
    moved = await stations.update(bay, site_id=None, circuit_id=None)
    assert (moved.site_id, moved.circuit_id) == (None, None)


async def test_a_station_changes_in_what_is_given_only(
    stations: StationsService, bay: str, facts: Facts
) -> None:
    changed = await stations.update(bay, wiring=("L3", "L1", "L2"), fallback_a=6.0)
    assert await stations.get(bay) == changed
    assert (changed.name, changed.wiring, changed.fallback_a) == ("Bay 1", ("L3", "L1", "L2"), 6.0)
    await stations.update(bay, fallback_a=6.0)
    rejected = await stations.update(bay, registration=Registration.REJECTED)
    assert rejected.registration is Registration.REJECTED
    assert [(f["registration_before"], f["registration"]) for f in await facts("station.changed")] == [
        ("accepted", "accepted"),
        ("accepted", "rejected"),
    ]
    for field, value in [("wiring", ("L1", "L1")), ("fallback_a", 99.0), ("max_current_a", 0.0)]:
        with pytest.raises(InvalidInput, match=field):
            await stations.update(bay, **{field: value})  # type: ignore[arg-type]
    with pytest.raises(NotFound, match="station BAY-99"):
        await stations.update("BAY-99", name="Bay 99")


async def test_evses_are_declared_anew(stations: StationsService, bay: str) -> None:
    await stations.update(bay, evses=3)
    assert [(e.number, e.confirmed) for e in await stations.evses(bay)] == [(1, True), (2, True), (3, True)]
    await stations.update(bay, evses=1)
    assert [(e.number, e.confirmed) for e in await stations.evses(bay)] == [(1, True), (2, False), (3, False)]
    with pytest.raises(InvalidInput, match="evses"):
        await stations.update(bay, evses=0)


async def test_stations_are_listed_by_site(stations: StationsService, bay: str) -> None:
    for number in (2, 3):
        await stations.create(id=f"BAY-0{number}", site_id="weavers-yard")
    await stations.create(id="A-LONER")
    page = await stations.list("weavers-yard", limit=2)
    assert [station.id for station in page.items] == [bay, "BAY-02"]
    rest = await stations.list("weavers-yard", after=page.next, limit=2)
    assert [station.id for station in rest.items] == ["BAY-03"]
    assert [station.id for station in (await stations.list()).items] == ["A-LONER", bay, "BAY-02", "BAY-03"]
    assert [station.id for station in await stations.stations_of("weavers-yard")] == [bay, "BAY-02", "BAY-03"]
    assert [(e.station_id, e.number) for e in await stations.evses_of("weavers-yard")] == [
        (bay, 1),
        ("BAY-02", 1),
        ("BAY-03", 1),
    ]


async def test_a_station_with_sessions_cannot_be_deleted(
    stations: StationsService, bay: str, database: Database, facts: Facts
) -> None:
    values = {"station_id": bay, "state": "ended", "started_at": NOON, "arrived_at": NOON, "marks": []}
    async with database.write() as connection:
        await connection.execute(insert(session).values(values))
    with pytest.raises(Conflict, match="1 sessions"):
        await stations.delete(bay)
    await stations.create(id="BAY-02")
    await stations.delete("BAY-02")
    for ask in (stations.get("BAY-02"), stations.delete("BAY-02"), stations.evses("BAY-02")):
        with pytest.raises(NotFound):
            await ask
    assert [fact["subject"] for fact in await facts("station.deleted")] == ["BAY-02"]


async def test_a_key_is_made_given_and_taken_away(
    stations: StationsService, sockets: SocketsService, bay: str
) -> None:
    key = await stations.set_key(bay)
    assert len(bytes.fromhex(key)) == 20
    assert (await stations.get(bay)).has_key
    caller = await sockets.identify(bay)
    assert caller is not None
    assert caller.key is not None
    assert key_matches(caller.key, bytes.fromhex(key))
    assert await stations.set_key(bay, "bakery van bay 07") == "bakery van bay 07"
    caller = await sockets.identify(bay)
    assert caller is not None
    assert caller.key is not None
    assert key_matches(caller.key, b"bakery van bay 07")
    assert not key_matches(caller.key, bytes.fromhex(key))
    with pytest.raises(InvalidInput, match="key"):
        await stations.set_key(bay, "short")
    await stations.remove_key(bay)
    assert not (await stations.get(bay)).has_key
    for ask in (stations.set_key("BAY-99"), stations.remove_key("BAY-99")):
        with pytest.raises(NotFound):
            await ask


async def test_a_key_may_come_with_the_station(stations: StationsService) -> None:
    assert (await stations.create(id="BAY-07", key="bakery van bay 07")).has_key


async def test_variables_of_a_station_that_is_not_there(stations: StationsService, bay: str) -> None:
    assert (await stations.list_variables(bay)).items == ()
    with pytest.raises(NotFound):
        await stations.list_variables("BAY-99")


async def test_a_waiting_station_is_given_a_place(
    stations: StationsService, database: Database, clock: ManualClock, journal: CommandJournal
) -> None:
    sockets = SocketsService(database, clock, journal, accept_unknown=True)
    for identity in ("new-1", "new-2"):
        await sockets.connected(identity, "ocpp1.6", NOON)
    with pytest.raises(InvalidInput, match="circuit_id"):
        await stations.place("new-1")
    placed = await stations.place(
        "new-1", site_id="weavers-yard", circuit_id="supply", wiring=("L3", "L1", "L2"), evses=2
    )
    assert (placed.registration, placed.wiring, placed.connected) == (
        Registration.ACCEPTED,
        ("L3", "L1", "L2"),
        True,
    )
    assert len(await stations.evses("new-1")) == 2
    with pytest.raises(Conflict, match="does not wait for a place"):
        await stations.place("new-1", circuit_id="supply")
    await stations.create(id="plan", name="Bay 9", site_id="weavers-yard", circuit_id="supply", fallback_a=6)
    with pytest.raises(Conflict, match="no free place"):
        await stations.place("new-2", planned="new-2")
    joined = await stations.place("new-2", planned="plan")
    assert (joined.id, joined.name, joined.fallback_a) == ("new-2", "Bay 9", 6.0)
    with pytest.raises(NotFound):
        await stations.get("plan")
