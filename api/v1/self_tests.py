"""`/v1/stations/{id}/self-tests`: when a charger's residual-current protection was last tested."""

from datetime import datetime

from fastapi import APIRouter
from pydantic import Field

from api.auth import Asking, GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Input, Instant, Note, Output
from api.pagination import After, Cursors, Limit, PageOut
from csms.alarms.selftests.result import SelfTest, TestSource

router = APIRouter(prefix="/stations/{station_id}/self-tests", tags=["alarms"], route_class=GuardedRoute)
cursors = Cursors("self-tests", counted=True)


class DoneTest(Input):
    """A test done by hand with the test button. `at` left out: now. `evse` 0: the whole charger."""

    passed: bool
    at: Instant | None = None
    evse: int = Field(default=0, ge=0, le=1000)
    detail: Note = ""


class SelfTestOut(Output):
    """A test; `source`: told by the charger, or written down by a person."""

    at: Instant
    evse: int
    passed: bool
    source: TestSource
    detail: str
    written_by: str


class SelfTestsOut(PageOut[SelfTestOut]):
    """`due_at`: when the next is due; `age_s`: how long ago the last one was, null when there was none."""

    due_at: Instant
    age_s: float | None


@router.get("")
async def list_tests(
    central: TheCentral, station_id: Id, limit: Limit = 50, after: After = None
) -> SelfTestsOut:
    """The latest first."""
    page = cursors.write(await central.self_tests.list(station_id, after=cursors.read(after), limit=limit))
    last, due = await central.self_tests.standing(station_id)
    age_s = None if last is None else (_now(central) - last.at).total_seconds()
    items = [SelfTestOut.model_validate(test) for test in page.items]
    return SelfTestsOut(items=items, next=page.next, due_at=due, age_s=age_s)


def _now(central: TheCentral) -> datetime:
    return central.clock.now()


@router.post("", status_code=201, response_model=SelfTestOut)
async def write_test(central: TheCentral, station_id: Id, body: DoneTest, principal: Asking) -> SelfTest:
    """Write down a test that was done by hand. One that failed raises an alarm."""
    return await central.self_tests.write(
        station_id,
        passed=body.passed,
        at=body.at,
        evse=body.evse,
        detail=body.detail,
        by=str(principal),
    )
