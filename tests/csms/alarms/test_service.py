"""Alarms from facts, on both databases."""

from datetime import timedelta

import pytest

from csms.alarms.alarm import AlarmState, Severity
from csms.alarms.deliveries import Occasion
from csms.alarms.repository import AlarmFilter
from csms.alarms.route_service import AlarmRoutes
from csms.alarms.routes import ChannelKind
from csms.alarms.service import AlarmsService
from csms.alarms.signs import Begun
from csms.clock import ManualClock
from csms.errors import Conflict, InvalidInput, NotFound
from csms.store.database import Database
from csms.store.outbox import Fact
from tests.csms.yard import BAY_1, BAY_2, SITE, VAN_1, facts

MAIL = ChannelKind.MAIL


def status(clock: ManualClock, error: str, status: str = "faulted", station: str = BAY_1) -> Fact:
    body = {"station": station, "evse": 1, "status": status, "error": error, "info": ""}
    return Fact(topic="station.status", at=clock.now(), site_id=SITE, subject=station, body=body)


def lost(clock: ManualClock, station: str = BAY_1, topic: str = "station.lost") -> Fact:
    return Fact(topic=topic, at=clock.now(), site_id=SITE, subject=station, body={"reason": "gone"})


async def test_a_fault_is_raised_counted_and_over(
    alarms: AlarmsService, yard: Database, clock: ManualClock
) -> None:
    await alarms.hear(1, status(clock, "GroundFailure"))
    await alarms.hear(1, status(clock, "GroundFailure"))
    await alarms.hear(2, status(clock, "GroundFailure"))
    (alarm,) = (await alarms.list()).items
    assert (alarm.kind, alarm.state, alarm.times) == ("ground_fault", AlarmState.RAISED, 2)
    assert (alarm.site_id, alarm.station_id, alarm.evse) == (SITE, BAY_1, 1)
    await alarms.hear(3, status(clock, "", "available"))
    assert (await alarms.get(alarm.id)).state is AlarmState.CLEARED
    assert (await alarms.list(AlarmFilter(standing=True))).items == ()
    assert [fact.topic for fact in await facts(yard, "alarm.")] == ["alarm.raised", "alarm.cleared"]


async def test_a_charger_that_comes_back_in_time_was_no_alarm(
    alarms: AlarmsService, clock: ManualClock
) -> None:
    await alarms.hear(1, lost(clock))
    clock.advance(200)
    await alarms.sweep()
    assert (await alarms.list()).items == ()
    await alarms.hear(2, lost(clock, topic="station.connected"))
    clock.advance(600)
    await alarms.sweep()
    assert (await alarms.list()).items == ()


async def test_a_third_of_the_chargers_is_the_network(alarms: AlarmsService, clock: ManualClock) -> None:
    for number, station in enumerate((BAY_1, BAY_2, VAN_1), 1):
        await alarms.hear(number, lost(clock, station))
    clock.advance(301)
    await alarms.sweep()
    standing = (await alarms.list(AlarmFilter(standing=True))).items
    assert [alarm.kind for alarm in standing].count("charger_lost") == 3
    (crowd,) = (await alarms.list(AlarmFilter(kind="many_chargers_lost"))).items
    assert (crowd.severity, dict(crowd.detail)) == (Severity.URGENT, {"lost": 3, "of": 3})
    for number, station in enumerate((BAY_1, BAY_2, VAN_1), 4):
        await alarms.hear(number, lost(clock, station, "station.connected"))
    assert (await alarms.list(AlarmFilter(standing=True))).items == ()


async def test_somebody_takes_it_on(alarms: AlarmsService, clock: ManualClock) -> None:
    await alarms.hear(1, status(clock, "ReaderFailure", "available"))
    (alarm,) = (await alarms.list()).items
    taken = await alarms.acknowledge(alarm.id, by="person:caretaker", note="new reader ordered")
    assert (taken.state, taken.acknowledged_by, taken.note) == (
        AlarmState.ACKNOWLEDGED,
        "person:caretaker",
        "new reader ordered",
    )
    with pytest.raises(Conflict):
        await alarms.acknowledge(alarm.id, by="person:board")
    with pytest.raises(InvalidInput, match="note"):
        await alarms.acknowledge(alarm.id, by="person:board", note="x" * 1001)
    over = await alarms.clear(alarm.id, by="person:caretaker")
    assert (over.state, over.cleared_by) == (AlarmState.CLEARED, "person:caretaker")
    with pytest.raises(Conflict):
        await alarms.clear(alarm.id, by="person:caretaker")
    with pytest.raises(NotFound):
        await alarms.get(4711)


async def test_who_is_told_and_when(alarms: AlarmsService, routes: AlarmRoutes, clock: ManualClock) -> None:
    await routes.create(channel=MAIL, address="caretaker@weavers.example", site_id=SITE)
    await routes.create(channel=MAIL, address="board@weavers.example", after_s=900, lowest=Severity.URGENT)
    await alarms.hear(1, status(clock, "GroundFailure"))
    (alarm,) = (await alarms.list()).items

    async def told() -> list[tuple[str, Occasion]]:
        page = await routes.deliveries(alarm.id)
        return sorted((each.address, each.occasion) for each in page.items)

    member = (f"driver-at-{BAY_1}-1@weavers.example", Occasion.RAISED)
    caretaker = ("caretaker@weavers.example", Occasion.RAISED)
    assert await told() == [caretaker, member]
    clock.advance(901)
    await alarms.sweep()
    await alarms.sweep()
    board = ("board@weavers.example", Occasion.RAISED)
    assert await told() == [board, caretaker, member]
    await alarms.hear(2, status(clock, "", "available"))
    ends = [(address, Occasion.CLEARED) for address in ("board@weavers.example", "caretaker@weavers.example")]
    assert await told() == sorted([board, caretaker, member, *ends])


async def test_a_deleted_charger_takes_even_its_latched_alarms(
    alarms: AlarmsService, clock: ManualClock
) -> None:
    wrong = Fact(
        topic="station.wrong_serial", at=clock.now(), site_id=SITE, subject=BAY_1, body={"serial": "W-2"}
    )
    await alarms.hear(1, wrong)
    await alarms.hear(2, lost(clock, BAY_1, "station.deleted"))
    (alarm,) = (await alarms.list()).items
    assert (alarm.state, alarm.cleared_by) == (AlarmState.CLEARED, "Phaseyard")


async def test_lists_by_weight_kind_and_charger(alarms: AlarmsService, clock: ManualClock) -> None:
    await alarms.hear(1, status(clock, "GroundFailure"))
    await alarms.hear(2, status(clock, "ReaderFailure", "available", BAY_2))
    urgent = await alarms.list(AlarmFilter(lowest=Severity.URGENT))
    assert [alarm.kind for alarm in urgent.items] == ["ground_fault"]
    there = await alarms.list(AlarmFilter(station_id=BAY_2, site_id=SITE))
    assert [alarm.kind for alarm in there.items] == ["reader"]
    first = await alarms.list(limit=1)
    assert first.next is not None
    assert (await alarms.list(after=first.next)).items[0].kind == "ground_fault"


async def test_a_sign_without_a_site_finds_that_of_its_station(alarms: AlarmsService) -> None:
    await alarms.apply([Begun(kind="self_test_failed", thing=BAY_1, station_id=BAY_1)])
    (alarm,) = (await alarms.list(AlarmFilter(site_id=SITE))).items
    assert alarm.began_at - alarm.last_at == timedelta(0)


async def test_that_nothing_is_wrong_is_no_work_for_the_writer(
    alarms: AlarmsService, yard: Database, clock: ManualClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    def write() -> None:
        raise AssertionError("nothing is to be written")

    monkeypatch.setattr(yard, "write", write)
    await alarms.hear(1, status(clock, "", "available"))
    await alarms.hear(2, lost(clock, topic="station.connected"))
