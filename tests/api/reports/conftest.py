"""The whole system over the yard's rows, and a report of it in one call."""

from collections.abc import Awaitable, Callable
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from api.deps import Central
from api.reports import REPORTS, Report
from api.reports.period import period_of
from tests.csms.yard import SITE, build_yard

Make = Callable[..., Awaitable[Report]]


@pytest.fixture
async def made(central: Central) -> Make:
    """`await made("energy", "2026-11", by="hour")`, or with `start` and `end` instead of the month."""
    await build_yard(central.database)

    async def make(
        name: str, month: str | None = None, *, start: Any = None, end: Any = None, **given: str
    ) -> Report:
        [kind] = [kind for kind in REPORTS if kind.id == name]
        site = await central.sites.get_site(SITE)
        period = period_of(start, end, month, ZoneInfo(site.time_zone))
        return await kind.run(central, kind.asked(site, period, given))

    return make
