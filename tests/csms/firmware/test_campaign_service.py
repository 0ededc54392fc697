"""Campaigns on three stations, on both databases.

A hundred over sockets: tests/scenarios/test_firmware.py.
"""

from datetime import time

import pytest
from sqlalchemy import delete, insert

from csms.clock import ManualClock
from csms.errors import Conflict, InvalidInput, StationOffline, StationSilent
from csms.firmware.campaign import CampaignState
from csms.firmware.campaign_service import Campaigns
from csms.firmware.image import Image
from csms.firmware.image_service import FirmwareImages
from csms.firmware.update import UpdateState
from csms.stations.commands import CommandResult, CommandStatus, SetAvailability
from csms.stations.words.firmware import UpdateFirmware
from csms.store.database import Database
from csms.store.fact import Fact
from csms.store.tables.sessions import session
from tests.csms.firmware.conftest import FIRMWARE, SHA256, Answer, Talkative, parts
from tests.csms.yard import BAY_1, BAY_2, ELSEWHERE, SITE, VAN_1, facts


async def plug_in(yard: Database, clock: ManualClock, station_id: str) -> None:
    async with yard.write() as connection:
        await connection.execute(
            insert(session).values(
                station_id=station_id,
                site_id=SITE,
                evse=1,
                state="started",
                charging="idle",
                started_at=clock.now(),
                arrived_at=clock.now(),
                marks={},
            )
        )


def firmware(clock: ManualClock, station_id: str, state: str) -> Fact:
    body = {"told": {"state": state, "request_id": None}}
    return Fact(topic="station.firmware", at=clock.now(), subject=station_id, body=body)


async def begin(campaigns: Campaigns, image: Image, **more: object) -> str:
    more = {"station_ids": [BAY_1, BAY_2, VAN_1], **more}
    made = await campaigns.create(site_id=SITE, image_id=image.id, **more)  # type: ignore[arg-type]
    await campaigns.start(made.id)
    await campaigns.look()
    return made.id


async def states(campaigns: Campaigns, campaign_id: str) -> dict[str, str]:
    return {update.station_id: update.state.value for update in (await campaigns.get(campaign_id))[1]}


async def test_the_canary_first_then_the_rest_and_back_into_use(
    campaigns: Campaigns, image: Image, commands: Talkative, clock: ManualClock
) -> None:
    key = await begin(campaigns, image, canaries=1)
    assert commands.told(UpdateFirmware) == [BAY_1]
    assert commands.asked[0] == (BAY_1, SetAvailability(False)), "nobody plugs in meanwhile"
    update = commands.asked[1][1]
    assert isinstance(update, UpdateFirmware)
    assert update.location == f"http://yard/{image.token}"
    for word in ("downloaded", "installing", "installed"):
        await campaigns.fact(1, firmware(clock, BAY_1, word))
    assert commands.asked[-1] == (BAY_1, SetAvailability(True))
    await campaigns.look()
    assert commands.told(UpdateFirmware) == [BAY_1, BAY_2, VAN_1]
    boot = Fact(topic="station.booted", at=clock.now(), subject=BAY_2, body={"firmware": "2.0"})
    await campaigns.fact(2, boot)
    await campaigns.fact(3, firmware(clock, VAN_1, "installed"))
    await campaigns.look()
    campaign, _ = await campaigns.get(key)
    assert campaign.state is CampaignState.FINISHED
    assert set((await states(campaigns, key)).values()) == {"installed"}


async def test_nobody_is_updated_while_a_car_is_there(
    campaigns: Campaigns, image: Image, commands: Talkative, yard: Database, clock: ManualClock
) -> None:
    await plug_in(yard, clock, BAY_1)
    await begin(campaigns, image, canaries=0)
    assert commands.told(UpdateFirmware) == [BAY_2, VAN_1]


async def test_a_car_that_was_quicker_is_left_alone(
    campaigns: Campaigns, image: Image, commands: Talkative, yard: Database, clock: ManualClock
) -> None:
    made = await campaigns.create(site_id=SITE, image_id=image.id, station_ids=[BAY_1], canaries=0)
    await campaigns.start(made.id)
    (update,) = (await campaigns.get(made.id))[1]
    # It came after we had looked, and before the charger was out of use.
    await plug_in(yard, clock, BAY_1)
    await campaigns._begin(update, image)
    assert commands.told(UpdateFirmware) == []
    assert commands.asked[-1] == (BAY_1, SetAvailability(True))
    async with yard.write() as connection:
        await connection.execute(delete(session))
    await campaigns.look()
    assert commands.told(UpdateFirmware) == [BAY_1]


async def test_a_failed_canary_stops_it_and_a_person_lets_it_go_on(
    campaigns: Campaigns, image: Image, commands: Talkative, yard: Database, clock: ManualClock
) -> None:
    key = await begin(campaigns, image, canaries=1)
    await campaigns.fact(1, firmware(clock, BAY_1, "invalid_signature"))
    await campaigns.look()
    assert (await campaigns.get(key))[0].state is CampaignState.STOPPED
    assert commands.told(UpdateFirmware) == [BAY_1]
    (fact,) = await facts(yard, "firmware.stopped")
    assert fact.body == {"campaign": key, "failed": 1, "of": 1}
    await campaigns.start(key)
    await campaigns.look()
    assert commands.told(UpdateFirmware) == [BAY_1, BAY_2, VAN_1]


async def test_refused_silent_and_off_line(
    campaigns: Campaigns, image: Image, commands: Talkative, clock: ManualClock
) -> None:
    answers: dict[str, Answer] = {
        BAY_1: CommandResult(CommandStatus.REJECTED, "no room"),
        BAY_2: StationSilent(BAY_2),
        VAN_1: StationOffline(VAN_1),
    }
    commands.answers[UpdateFirmware] = answers.__getitem__
    key = await begin(campaigns, image, canaries=0)
    assert await states(campaigns, key) == {BAY_1: "failed", BAY_2: "unknown", VAN_1: "waiting"}
    details = {update.station_id: update.detail for update in (await campaigns.get(key))[1]}
    assert details[BAY_1] == "no room"


async def test_an_hour_without_a_word_is_a_failure_and_it_goes_back_into_use(
    campaigns: Campaigns, image: Image, commands: Talkative, clock: ManualClock
) -> None:
    key = await begin(campaigns, image, station_ids=[BAY_1], canaries=0)
    clock.advance(3600)
    await campaigns.look()
    assert await states(campaigns, key) == {BAY_1: UpdateState.UNKNOWN.value}
    assert commands.asked[-1] == (BAY_1, SetAvailability(True))


async def test_only_in_its_hours(
    campaigns: Campaigns, image: Image, commands: Talkative, clock: ManualClock
) -> None:
    # It is noon at the site.
    await begin(campaigns, image, from_local=time(1), to_local=time(5))
    assert commands.asked == []
    clock.advance(14 * 3600)
    await campaigns.look()
    assert commands.told(UpdateFirmware) == [BAY_1, BAY_2]


async def test_paused_it_tells_nobody_and_cancelled_it_leaves_the_rest(
    campaigns: Campaigns, image: Image, commands: Talkative
) -> None:
    made = await campaigns.create(site_id=SITE, image_id=image.id)
    await campaigns.start(made.id)
    await campaigns.pause(made.id)
    await campaigns.look()
    assert commands.asked == []
    await campaigns.cancel(made.id)
    assert set((await states(campaigns, made.id)).values()) == {"skipped"}
    with pytest.raises(Conflict):
        await campaigns.start(made.id)


async def test_what_is_wrong_is_named(campaigns: Campaigns, images: FirmwareImages, image: Image) -> None:
    with pytest.raises(InvalidInput, match="no MILL-01 at this site"):
        await campaigns.create(site_id=SITE, image_id=image.id, station_ids=[ELSEWHERE])
    empty = await images.create(version="3.0")
    with pytest.raises(InvalidInput, match="has not come"):
        await campaigns.create(site_id=SITE, image_id=empty.id)
    foreign = await images.create(version="3.0", vendor="Weir")
    await images.take(foreign.id, parts(FIRMWARE), SHA256)
    with pytest.raises(InvalidInput, match="does not fit YARD-01"):
        await campaigns.create(site_id=SITE, image_id=foreign.id, station_ids=[BAY_1])
    with pytest.raises(InvalidInput, match="none of them needs"):
        await campaigns.create(site_id=SITE, image_id=foreign.id)
    await campaigns.create(site_id=SITE, image_id=image.id)
    with pytest.raises(Conflict, match="another campaign"):
        await campaigns.create(site_id=SITE, image_id=image.id)


async def test_a_restart_goes_on(
    campaigns: Campaigns, image: Image, commands: Talkative, clock: ManualClock
) -> None:
    key = await begin(campaigns, image, canaries=1)
    again = Campaigns(
        campaigns._database,
        clock,
        campaigns._stations,
        campaigns._sessions,
        commands,
        campaigns._tasks,
        lambda token: token,
    )
    await again.fact(1, firmware(clock, BAY_1, "installed"))
    await again.look()
    assert commands.told(UpdateFirmware) == [BAY_1, BAY_2, VAN_1]
    assert (await again.get(key))[0].state is CampaignState.RUNNING
