"""Self-tests, kept and overdue, on both databases."""

from datetime import timedelta

import pytest

from csms.alarms.repository import AlarmFilter
from csms.alarms.selftests.result import TestSource
from csms.alarms.selftests.service import SelfTests
from csms.alarms.service import AlarmsService
from csms.clock import ManualClock
from csms.errors import InvalidInput, NotFound
from csms.stations.events import ComponentsReported, StatusReported
from csms.stations.model import EvseStatus, VariableValue
from csms.store.database import Database
from tests.csms.yard import BAY_1, ELSEWHERE

DAY_S = 86_400.0
STANDING = AlarmFilter(standing=True, station_id=BAY_1)


@pytest.fixture
def tests(yard: Database, clock: ManualClock, alarms: AlarmsService) -> SelfTests:
    return SelfTests(yard, clock, alarms)


async def kinds(alarms: AlarmsService) -> list[str]:
    return sorted(alarm.kind for alarm in (await alarms.list(STANDING)).items)


async def test_a_failed_test_is_an_alarm_until_one_passes(tests: SelfTests, alarms: AlarmsService) -> None:
    await tests.write(BAY_1, passed=False, detail="button pressed, nothing happened", by="person:caretaker")
    assert await kinds(alarms) == ["self_test_failed"]
    await tests.write(BAY_1, passed=True, by="person:electrician")
    assert await kinds(alarms) == []
    last, _due = await tests.standing(BAY_1)
    assert last is not None
    assert (last.passed, last.source, last.written_by) == (True, TestSource.PERSON, "person:electrician")


async def test_overdue_by_hand_after_half_a_year(
    tests: SelfTests, alarms: AlarmsService, clock: ManualClock
) -> None:
    # The yard's chargers were put in on 1 January, and it is November.
    await tests.look()
    assert await kinds(alarms) == ["self_test_overdue"]
    assert {alarm.station_id for alarm in (await alarms.list()).items} >= {BAY_1, ELSEWHERE}
    await tests.look()
    assert [alarm.times for alarm in (await alarms.list(STANDING)).items] == [1], (
        "told once, not at each look"
    )
    await tests.write(BAY_1, passed=True)
    await tests.look()
    assert await kinds(alarms) == []
    clock.advance(185 * DAY_S)
    await tests.look()
    assert await kinds(alarms) == ["self_test_overdue"]


async def test_a_charger_that_tests_itself_is_overdue_after_a_day(
    tests: SelfTests, alarms: AlarmsService, clock: ManualClock
) -> None:
    passed = ComponentsReported((), (VariableValue("RCD@1/SelfTestResult", "passed"),))
    await tests.components_told(BAY_1, passed, clock.now())
    clock.advance(25 * 3600)
    await tests.look()
    assert await kinds(alarms) == []
    clock.advance(2 * 3600)
    await tests.look()
    assert await kinds(alarms) == ["self_test_overdue"]


async def test_a_status_can_tell_it_too(tests: SelfTests, alarms: AlarmsService, clock: ManualClock) -> None:
    told = StatusReported(1, 1, EvseStatus.FAULTED, "OtherError", info="RCD self-test failed")
    await tests.status_told(BAY_1, told, clock.now())
    await tests.status_told(BAY_1, StatusReported(1, 1, EvseStatus.AVAILABLE), clock.now())
    assert await kinds(alarms) == ["self_test_failed"]
    assert (await tests.list(BAY_1)).items[0].evse == 1


async def test_what_is_wrong_is_named(tests: SelfTests, clock: ManualClock) -> None:
    with pytest.raises(NotFound):
        await tests.write("moon", passed=True)
    with pytest.raises(NotFound):
        await tests.list("moon")
    with pytest.raises(NotFound):
        await tests.standing("moon")
    with pytest.raises(InvalidInput, match="at"):
        await tests.write(BAY_1, passed=True, at=clock.now() + timedelta(hours=1))
    with pytest.raises(InvalidInput, match="evse"):
        await tests.write(BAY_1, passed=True, evse=-1)
