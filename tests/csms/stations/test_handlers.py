"""Station says, we answer: boot, heartbeat, status, variables, profiles, a maker's own message."""

from collections.abc import Awaitable, Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from csms.clock import ManualClock
from csms.dispatch import Dispatcher
from csms.errors import NotFound, OurFault
from csms.stations.events import (
    EVENTS,
    ComponentAlert,
    ComponentsReported,
    Heartbeat,
    MetersReported,
    ProfilesReported,
    StatusReported,
    VariablesReported,
)
from csms.stations.handlers import BootSettings, StationsHandlers, register
from csms.stations.journal.service import CommandJournal
from csms.stations.model import (
    ChargingProfile,
    EvseStatus,
    ProfileKind,
    ProfilePeriod,
    ProfilePurpose,
    Registration,
    VariableValue,
)
from csms.stations.questions import (
    QUESTIONS,
    Boot,
    BootAnswer,
    MayCharge,
    TransactionReported,
    VendorAnswer,
    VendorMessage,
    VendorStatus,
)
from csms.stations.service import StationsService
from csms.stations.sockets.service import SocketsService
from csms.stations.told.kinds import KEPT
from csms.stations.words.needs import NeedsReported
from csms.store.database import Database
from tests.conftest import NOON

Facts = Callable[[str], Awaitable[list[dict[str, Any]]]]
MINUTE = timedelta(minutes=1)
LOOM = Boot(vendor="Loomworks", model="Loom 22", serial="LW-0001", firmware="1.4.2", reason="PowerUp")


def dispatching(database: Database, sockets: SocketsService, *, accept_unknown: bool = False) -> Dispatcher:
    dispatcher = Dispatcher()
    settings = BootSettings(heartbeat_s=300, accept_unknown=accept_unknown)
    register(dispatcher, StationsHandlers(database, sockets, settings, draw=lambda: 0.5))
    return dispatcher


@pytest.fixture
def dispatcher(database: Database, sockets: SocketsService) -> Dispatcher:
    return dispatching(database, sockets)


def status(
    status: EvseStatus, *, evse: int = 1, connector: int = 1, at: datetime | None = NOON, error: str = ""
) -> StatusReported:
    return StatusReported(evse=evse, connector=connector, status=status, at=at, error=error)


def test_everything_that_is_ours_has_an_owner(dispatcher: Dispatcher) -> None:
    others = {MetersReported, MayCharge, NeedsReported, TransactionReported, *KEPT}
    assert set(dispatcher.unowned((*EVENTS, *QUESTIONS))) == {kind.__name__ for kind in others}


async def test_what_belongs_to_others_is_left_to_them(dispatcher: Dispatcher, bay: str) -> None:
    with pytest.raises(OurFault, match="MetersReported"):
        await dispatcher.ask(bay, MetersReported(1, ()), NOON)


async def test_an_accepted_station_boots(
    dispatcher: Dispatcher, stations: StationsService, bay: str, facts: Facts
) -> None:
    answer = await dispatcher.ask(bay, LOOM, NOON)
    assert answer == BootAnswer(Registration.ACCEPTED, 300, NOON)
    station = await stations.get(bay)
    assert (station.vendor, station.model, station.serial, station.firmware) == (
        "Loomworks",
        "Loom 22",
        "LW-0001",
        "1.4.2",
    )
    assert station.booted_at == station.last_seen_at == NOON
    assert await facts("station.booted") == [
        {
            "topic": "station.booted",
            "subject": bay,
            "site_id": "weavers-yard",
            "station": "Bay 1",
            "registration": "accepted",
            "reason": "PowerUp",
            "firmware_before": "",
            "vendor": "Loomworks",
            "model": "Loom 22",
            "serial": "LW-0001",
            "firmware": "1.4.2",
        }
    ]


async def test_an_accepted_station_stays_accepted(
    dispatcher: Dispatcher, sockets: SocketsService, stations: StationsService, bay: str
) -> None:
    for _ in range(2):
        epoch = await sockets.connected(bay, "ocpp1.6", NOON)
        assert (await dispatcher.ask(bay, LOOM, NOON)).registration is Registration.ACCEPTED
        await sockets.lost(bay, epoch, NOON)
    caller = await sockets.identify(bay)
    assert caller is not None
    assert caller.registration is Registration.ACCEPTED


@pytest.mark.parametrize(
    ("registration", "interval_s"), [(Registration.PENDING, 300), (Registration.REJECTED, 3600)]
)
async def test_a_station_that_is_not_accepted_is_told_so_at_each_boot(
    dispatcher: Dispatcher,
    stations: StationsService,
    bay: str,
    registration: Registration,
    interval_s: int,
) -> None:
    await stations.update(bay, registration=registration)
    for _ in range(2):
        assert await dispatcher.ask(bay, LOOM, NOON) == BootAnswer(registration, interval_s, NOON)
    assert (await stations.get(bay)).model == "Loom 22"


async def test_an_unknown_station_is_sent_away(
    dispatcher: Dispatcher, stations: StationsService, facts: Facts
) -> None:
    assert await dispatcher.ask("NEW-1", LOOM, NOON) == BootAnswer(Registration.REJECTED, 3600, NOON)
    assert (await stations.list()).items == ()
    assert await facts("station.") == []


async def test_an_unknown_station_waits_where_that_is_wanted(
    database: Database, sockets: SocketsService, stations: StationsService
) -> None:
    dispatcher = dispatching(database, sockets, accept_unknown=True)
    assert await dispatcher.ask("NEW-1", LOOM, NOON) == BootAnswer(Registration.PENDING, 300, NOON)
    waiting = await stations.get("NEW-1")
    assert (waiting.registration, waiting.site_id, waiting.model) == (Registration.PENDING, None, "Loom 22")
    await stations.update("NEW-1", registration=Registration.ACCEPTED, site_id="weavers-yard")
    assert (await dispatcher.ask("NEW-1", LOOM, NOON)).registration is Registration.ACCEPTED


async def test_a_boot_with_odd_texts_is_not_refused(
    dispatcher: Dispatcher, stations: StationsService, bay: str
) -> None:
    odd = Boot(vendor="Loomworks\0\0", model="", serial="s" * 5000, firmware="1.4\r\n2", reason="\0")
    assert (await dispatcher.ask(bay, odd, NOON)).registration is Registration.ACCEPTED
    station = await stations.get(bay)
    assert (station.vendor, station.model, station.serial, station.firmware) == (
        "Loomworks",
        "",
        "s" * 255,
        "1.4 2",
    )


async def test_a_heartbeat_is_a_sign_of_life(
    dispatcher: Dispatcher, stations: StationsService, bay: str, database: Database
) -> None:
    await dispatcher.ask(bay, Heartbeat(), NOON)
    pieces = database.writer.pieces
    await dispatcher.ask(bay, Heartbeat(), NOON + 59 * timedelta(seconds=1))
    assert database.writer.pieces == pieces
    assert (await stations.get(bay)).last_seen_at == NOON


async def test_a_status_is_kept_and_told_of_when_it_changes(
    dispatcher: Dispatcher, stations: StationsService, bay: str, facts: Facts
) -> None:
    await dispatcher.ask(bay, status(EvseStatus.AVAILABLE), NOON)
    await dispatcher.ask(bay, status(EvseStatus.AVAILABLE, at=NOON + MINUTE), NOON + MINUTE)
    await dispatcher.ask(bay, status(EvseStatus.CHARGING, at=None), NOON + 2 * MINUTE)
    (evse,) = await stations.evses(bay)
    assert (evse.status, evse.status_at, evse.confirmed) == (EvseStatus.CHARGING, NOON + 2 * MINUTE, True)
    told = await facts("station.status")
    assert [(fact["before"], fact["status"]) for fact in told] == [
        (None, "available"),
        ("available", "charging"),
    ]
    assert (told[1]["station"], told[1]["evse"], told[1]["subject"]) == ("Bay 1", 1, bay)


async def test_a_late_status_changes_nothing(
    dispatcher: Dispatcher, stations: StationsService, bay: str, facts: Facts
) -> None:
    later = NOON + 10 * MINUTE
    await dispatcher.ask(bay, status(EvseStatus.CHARGING, at=later), later)
    await dispatcher.ask(bay, status(EvseStatus.AVAILABLE, at=NOON), later + MINUTE)
    (evse,) = await stations.evses(bay)
    assert (evse.status, evse.status_at) == (EvseStatus.CHARGING, later)
    assert len(await facts("station.status")) == 1


async def test_a_status_of_a_clock_that_was_never_set_counts_from_its_arrival(
    dispatcher: Dispatcher, stations: StationsService, bay: str
) -> None:
    await dispatcher.ask(bay, status(EvseStatus.AVAILABLE), NOON)
    never_set = datetime(1970, 1, 1, 0, 3, tzinfo=UTC)
    await dispatcher.ask(bay, status(EvseStatus.FAULTED, at=never_set, error="GroundFailure"), NOON + MINUTE)
    (evse,) = await stations.evses(bay)
    assert (evse.status, evse.error, evse.status_at) == (
        EvseStatus.FAULTED,
        "GroundFailure",
        NOON + MINUTE,
    )


async def test_an_unknown_connector_comes_into_being_unconfirmed(
    dispatcher: Dispatcher, stations: StationsService, bay: str
) -> None:
    await dispatcher.ask(bay, status(EvseStatus.AVAILABLE, evse=7), NOON)
    await dispatcher.ask(bay, status(EvseStatus.AVAILABLE, evse=0), NOON)
    assert [(evse.number, evse.confirmed) for evse in await stations.evses(bay)] == [(1, True), (7, False)]
    whole = await stations.whole(bay)
    assert whole is not None
    assert (whole.status, whole.confirmed) == (EvseStatus.AVAILABLE, True)


@pytest.mark.parametrize(("evse", "connector"), [(-1, 1), (2**40, 1), (1, -1), (1, 2**40)])
async def test_an_impossible_connector_is_ignored(
    dispatcher: Dispatcher, stations: StationsService, bay: str, evse: int, connector: int
) -> None:
    await dispatcher.ask(bay, status(EvseStatus.AVAILABLE, evse=evse, connector=connector), NOON)
    assert [(found.number, found.status_at) for found in await stations.evses(bay)] == [(1, None)]


async def test_a_status_of_a_deleted_station_is_let_go(
    dispatcher: Dispatcher, stations: StationsService, bay: str, facts: Facts
) -> None:
    await stations.delete(bay)
    value = VariableValue("A/B", "1")
    profile = ProfilesReported(1, 1, True, ())
    for event in (
        status(EvseStatus.AVAILABLE),
        ComponentsReported((status(EvseStatus.AVAILABLE),), (value,)),
        VariablesReported(1, 0, True, (value,)),
        profile,
        Heartbeat(),
    ):
        await dispatcher.ask(bay, event, NOON)
    assert [fact["topic"] for fact in await facts("station.")] == ["station.created", "station.deleted"]


async def test_components_are_statuses_and_variables(
    dispatcher: Dispatcher, stations: StationsService, bay: str, facts: Facts
) -> None:
    event = ComponentsReported(
        statuses=(status(EvseStatus.OCCUPIED, at=None), status(EvseStatus.AVAILABLE, evse=2)),
        changes=(VariableValue("Connector@1.1/AvailabilityState", "Occupied"),),
        at=NOON - MINUTE,
    )
    await dispatcher.ask(bay, event, NOON)
    assert [(e.number, e.status, e.status_at) for e in await stations.evses(bay)] == [
        (1, EvseStatus.OCCUPIED, NOON - MINUTE),
        (2, EvseStatus.AVAILABLE, NOON),
    ]
    assert (await stations.list_variables(bay)).items == event.changes
    assert [fact["status"] for fact in await facts("station.status")] == ["occupied", "available"]


async def test_variables_come_in_parts_and_replace_older_values(
    dispatcher: Dispatcher, stations: StationsService, bay: str, facts: Facts
) -> None:
    first = (VariableValue("OCPPCommCtrlr/HeartbeatInterval", "300"), VariableValue("A/B", None, True))
    second = (VariableValue("A/B", "now\0 set"), VariableValue("A/B", "twice"), VariableValue("x" * 256, "1"))
    await dispatcher.ask(bay, VariablesReported(5, 0, False, first), NOON)
    assert await facts("station.variables") == []
    await dispatcher.ask(bay, VariablesReported(5, 2, True, second), NOON)
    assert (await stations.list_variables(bay)).items == (
        VariableValue("A/B", "twice"),
        VariableValue("OCPPCommCtrlr/HeartbeatInterval", "300"),
    )
    (fact,) = await facts("station.variables")
    assert (fact["request_id"], fact["count"], fact["missing_parts"]) == (5, 4, [1])


async def test_a_key_that_a_station_tells_is_not_kept(
    dispatcher: Dispatcher, stations: StationsService, bay: str
) -> None:
    told = (VariableValue("AuthorizationKey", "0011"), VariableValue("SecurityCtrlr/BasicAuthPassword", "x"))
    await dispatcher.ask(bay, VariablesReported(1, 0, True, told), NOON)
    assert [value.value for value in (await stations.list_variables(bay)).items] == [None, None]


async def test_profiles_are_told_of_when_the_last_part_has_come(
    dispatcher: Dispatcher, bay: str, facts: Facts
) -> None:
    profile = ChargingProfile(
        id=1,
        stack_level=0,
        purpose=ProfilePurpose.TX_DEFAULT,
        kind=ProfileKind.ABSOLUTE,
        periods=(ProfilePeriod(0, 6.0),),
        start_at=NOON,
    )
    await dispatcher.ask(bay, ProfilesReported(9, 1, False, (profile,)), NOON)
    assert await facts("station.profiles") == []
    await dispatcher.ask(bay, ProfilesReported(9, 2, True, (profile,)), NOON)
    (fact,) = await facts("station.profiles")
    assert [(told["evse"], told["purpose"], told["periods"][0]["limit"]) for told in fact["profiles"]] == [
        (1, "tx_default", 6.0),
        (2, "tx_default", 6.0),
    ]


async def test_a_makers_own_message_is_not_understood(dispatcher: Dispatcher, bay: str) -> None:
    answer = await dispatcher.ask(bay, VendorMessage("Loomworks", "ping", "{}"), NOON)
    assert answer == VendorAnswer(VendorStatus.UNKNOWN_VENDOR)


async def test_the_journal_and_the_clock_agree_with_what_is_asked_after_a_boot(
    dispatcher: Dispatcher, sockets: SocketsService, journal: CommandJournal, bay: str, clock: ManualClock
) -> None:
    await dispatcher.ask(bay, LOOM, clock.now())
    (question,) = await sockets.questions_after_connect(bay)
    asked = await journal.asked(bay, question)
    assert (await journal.get_command(asked)).body == {"kind": "status", "evse": None, "custom": ""}


async def test_a_charger_with_an_expected_serial_joins_its_place_and_is_accepted(
    database: Database,
    stations: StationsService,
    sockets: SocketsService,
    dispatcher: Dispatcher,
    facts: Facts,
) -> None:
    """It comes by an identity that nobody has typed in anywhere."""
    await stations.create(
        id="BAY-07",
        name="Bay 7",
        site_id="weavers-yard",
        circuit_id="supply",
        wiring=("L2", "L3", "L1"),
        fallback_a=6,
        expected_serial="lw-0001 ",
    )
    caller = await sockets.identify("factory-77")
    assert caller is not None
    assert caller.registration is Registration.PENDING
    await sockets.connected("factory-77", "ocpp1.6", NOON)
    answer = await dispatcher.ask("factory-77", LOOM, NOON)
    assert isinstance(answer, BootAnswer)
    assert answer.registration is Registration.ACCEPTED
    joined = await stations.get("factory-77")
    assert (joined.name, joined.circuit_id, joined.wiring) == ("Bay 7", "supply", ("L2", "L3", "L1"))
    assert (joined.fallback_a, joined.serial, joined.connected) == (6.0, "LW-0001", True)
    with pytest.raises(NotFound):
        await stations.get("BAY-07")
    assert [fact["planned_as"] for fact in await facts("station.commissioned")] == ["BAY-07"]
    # Nobody is expected any more: the door is closed again.
    assert await sockets.identify("factory-78") is None


async def test_a_charger_with_another_serial_waits(
    stations: StationsService, sockets: SocketsService, dispatcher: Dispatcher, facts: Facts
) -> None:
    await stations.create(id="BAY-07", site_id="weavers-yard", circuit_id="supply", expected_serial="LW-0007")
    await sockets.connected("factory-77", "ocpp1.6", NOON)
    answer = await dispatcher.ask("factory-77", LOOM, NOON)
    assert isinstance(answer, BootAnswer)
    assert answer.registration is Registration.PENDING
    assert (await stations.get("factory-77")).waits
    # Nor does it get the place by calling itself so: a person decides.
    answer = await dispatcher.ask("BAY-07", LOOM, NOON)
    assert isinstance(answer, BootAnswer)
    assert answer.registration is Registration.PENDING
    assert [(f["serial"], f["expected"]) for f in await facts("station.wrong_serial")] == [
        ("LW-0001", "LW-0007")
    ]
    await stations.place("BAY-07")
    answer = await dispatcher.ask("BAY-07", LOOM, NOON)
    assert isinstance(answer, BootAnswer)
    assert answer.registration is Registration.ACCEPTED


async def test_the_right_charger_at_its_own_identity_is_accepted(
    stations: StationsService, dispatcher: Dispatcher
) -> None:
    await stations.create(id="BAY-07", site_id="weavers-yard", circuit_id="supply", expected_serial="LW-0001")
    answer = await dispatcher.ask("BAY-07", LOOM, NOON)
    assert isinstance(answer, BootAnswer)
    assert answer.registration is Registration.ACCEPTED


async def test_an_alarm_of_a_component_becomes_a_fact(dispatcher: Dispatcher, bay: str, facts: Facts) -> None:
    hot = ComponentAlert(
        path="Connector@1.1/Temperature", value="91", evse=1, severity=2, code="E7", info="hot\0 plug"
    )
    await dispatcher.ask(bay, ComponentsReported((), (), NOON, (hot, replace(hot, cleared=True))), NOON)
    first, second = await facts("station.alert")
    assert (first["subject"], first["path"], first["value"], first["evse"]) == (
        bay,
        "Connector@1.1/Temperature",
        "91",
        1,
    )
    assert (first["severity"], first["code"], first["info"], first["cleared"]) == (2, "E7", "hot plug", False)
    assert first["told_at"] == NOON.isoformat()
    assert second["cleared"] is True
