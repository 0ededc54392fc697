"""Conditions become facts when they begin and when they are over, once each."""

import asyncio

from csms.clock import ManualClock
from csms.cluster.history import History
from csms.power.installation import Evse, Line
from csms.power.notices_service import Conditions
from csms.power.steering.notices import Notice, NoticeKind
from csms.store.database import Database
from csms.tasks import Tasks

ASLEEP = Notice(NoticeKind.CAR_ASLEEP, Evse("B1", 2))
OVER = Notice(NoticeKind.OVER_LIMIT, None, "main", Line.L2)


async def test_what_begins_and_what_is_over_is_told_once(database: Database, clock: ManualClock) -> None:
    tasks = Tasks()
    conditions = Conditions(database, clock, tasks)
    for held in ({ASLEEP}, {ASLEEP}, {ASLEEP, OVER}, {OVER}):
        conditions.looked("yard", frozenset(held))
        for _ in range(400):
            if len(tasks):
                await asyncio.sleep(0.005)
        assert not len(tasks)
    assert conditions.of("yard") == {OVER}
    facts = [(f.topic, f.body) for f in (await History(database).latest(site_id="yard")).items]
    asleep = {"station": "B1", "evse": 2, "circuit": None, "line": None}
    assert facts == [
        ("power_over.car_asleep", asleep),
        ("power.over_limit", {"station": None, "evse": None, "circuit": "main", "line": "L2"}),
        ("power.car_asleep", asleep),
    ]
    conditions.forget("yard")
    assert conditions.of("yard") == frozenset()
    await tasks.close()
