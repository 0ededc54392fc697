"""The way up, against a station that answers what a test says; on both databases.

The whole way over real doors is in tests/scenarios/test_security.py.
"""

from collections.abc import Callable

import pytest

from csms.clock import ManualClock
from csms.errors import Conflict, StationSilent
from csms.security.signing_service import CertificateSigning
from csms.security.upgrade_service import SecurityUpgrades
from csms.stations.commands import CommandResult, CommandStatus, GetVariables, Reset
from csms.stations.model import VariableValue
from csms.stations.security.profile import Profile, Standing
from csms.stations.security.repository import SecurityState
from csms.stations.service import StationsService
from csms.stations.sockets.service import SocketsService
from csms.stations.words.network import SetNetworkProfile
from csms.stations.words.security import InstallCertificate
from csms.store.database import Database
from csms.store.fact import Fact
from csms.tasks import Tasks
from tests.csms.security.conftest import Talkative
from tests.csms.yard import BAY_1, facts
from tests.scenarios import rest

DOORS = {
    Profile.KEY_OVER_TLS: "wss://yard.weavers.example:9211/ocpp/",
    Profile.CERTIFICATE: "wss://yard.weavers.example:9212/ocpp/",
}


@pytest.fixture
async def upgrades(
    yard: Database,
    clock: ManualClock,
    stations: StationsService,
    commands: Talkative,
    signing: CertificateSigning,
    tasks: Tasks,
) -> SecurityUpgrades:
    await stations.set_key(BAY_1)
    return SecurityUpgrades(
        yard,
        clock,
        stations,
        commands,
        signing,
        tasks,
        doors=lambda: DOORS,
        root_pem=lambda: "our root",
    )


async def until(upgrades: SecurityUpgrades, done: Callable[[SecurityState], bool]) -> SecurityState:
    async def state() -> SecurityState | None:
        found = await upgrades.state(BAY_1)
        return found if done(found) else None

    return await rest.until(state, "the upgrade gets there", 30)


def connected(clock: ManualClock) -> Fact:
    return Fact(topic="station.connected", at=clock.now(), subject=BAY_1)


async def test_the_commands_of_the_way_in_their_order(
    upgrades: SecurityUpgrades, commands: Talkative, sockets: SocketsService, clock: ManualClock
) -> None:
    told = (VariableValue("OCPPCommCtrlr/NetworkConfigurationPriority", "2"),)
    commands.answers[GetVariables] = lambda _c: CommandResult(CommandStatus.ACCEPTED, data=told)
    await upgrades.begin(BAY_1, Profile.KEY_OVER_TLS)
    await until(upgrades, lambda state: state.step == "waiting" and "Reset" in commands.kinds)
    assert commands.kinds == [
        "InstallCertificate",
        "GetVariables",
        "SetNetworkProfile",
        "SetVariables",
        "Reset",
    ]
    profile = commands.asked[2]
    assert isinstance(profile, SetNetworkProfile)
    assert (profile.slot, profile.security_profile) == (1, 2)
    assert profile.url == DOORS[Profile.KEY_OVER_TLS]
    await sockets.connected(BAY_1, "2.0.1", clock.now(), Profile.KEY_OVER_TLS)
    state = await upgrades.state(BAY_1)
    assert (state.standing, state.step) == (Standing(Profile.KEY_OVER_TLS), "reached")


async def test_a_refusal_ends_it_and_says_which(
    upgrades: SecurityUpgrades, commands: Talkative, yard: Database
) -> None:
    commands.answers[InstallCertificate] = lambda _c: CommandResult(CommandStatus.REJECTED, "store is full")
    await upgrades.begin(BAY_1, Profile.KEY_OVER_TLS)
    state = await until(upgrades, lambda state: state.step == "failed")
    assert state.detail == "InstallCertificate: store is full"
    (fact,) = await facts(yard, "station.security_upgrade")
    assert fact.body == {"step": "failed", "detail": "InstallCertificate: store is full"}
    commands.answers.clear()
    await upgrades.begin(BAY_1, Profile.KEY_OVER_TLS)
    await until(upgrades, lambda state: state.step == "waiting")


async def test_silence_is_unknown_and_it_goes_on_when_it_is_back(
    upgrades: SecurityUpgrades, commands: Talkative, clock: ManualClock
) -> None:
    commands.answers[InstallCertificate] = lambda _c: StationSilent(BAY_1)
    await upgrades.begin(BAY_1, Profile.KEY_OVER_TLS)
    await until(upgrades, lambda state: state.step == "unknown")
    commands.answers.clear()
    await upgrades.fact(1, connected(clock))
    await until(upgrades, lambda state: state.step == "waiting")


async def test_back_by_the_old_door_is_told(
    upgrades: SecurityUpgrades, commands: Talkative, clock: ManualClock
) -> None:
    await upgrades.begin(BAY_1, Profile.KEY_OVER_TLS)
    await until(upgrades, lambda state: state.step == "waiting" and Reset() in commands.asked)
    await upgrades.fact(1, connected(clock))
    assert (await upgrades.state(BAY_1)).step == "waiting", "that was the connection before the switch"
    clock.advance(1)
    await upgrades.fact(2, connected(clock))
    await until(upgrades, lambda state: state.step == "fell_back")
    state = await upgrades.state(BAY_1)
    assert (state.step, state.standing.in_use) == ("fell_back", None)


async def test_a_certificate_that_does_not_come_in_time(
    upgrades: SecurityUpgrades, commands: Talkative, clock: ManualClock
) -> None:
    await upgrades.begin(BAY_1, Profile.CERTIFICATE)
    await until(upgrades, lambda state: state.step == "certificate" and "Trigger" in commands.kinds)

    def late(state: SecurityState) -> bool:
        clock.advance(301)
        return state.step != "certificate"

    assert (await until(upgrades, late)).detail == "it has not taken a certificate in time"


async def test_people_can_give_up_and_set_back(
    upgrades: SecurityUpgrades, sockets: SocketsService, clock: ManualClock
) -> None:
    await sockets.connected(BAY_1, "2.0.1", clock.now(), Profile.KEY_OVER_TLS)
    with pytest.raises(Conflict, match="only a higher one"):
        await upgrades.begin(BAY_1, Profile.KEY_OVER_TLS)
    await upgrades.begin(BAY_1, Profile.CERTIFICATE)
    given_up = await upgrades.give_up(BAY_1)
    assert given_up.standing == Standing(Profile.KEY_OVER_TLS)
    assert (await upgrades.set_back(BAY_1)).standing == Standing()
