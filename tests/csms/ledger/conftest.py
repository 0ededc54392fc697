"""A month's inputs as small as can be: two members, a guest, an invoice."""

from collections.abc import AsyncIterator, Callable
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest

from csms.app import Central
from csms.clock import ManualClock
from csms.ledger.inputs import GUESTS, Cost, MemberFacts, Part, PoolFacts, RunInputs
from csms.ledger.pool import Key
from csms.ledger.statement import DayEnergy, Issuer
from csms.ledger.terms import Terms
from csms.settings import Settings
from tests.csms.ledger.small_yard import START, SmallYard

RATE = Decimal(25)
FEBRUARY = datetime(2026, 2, 3, 11, tzinfo=UTC)


def part(account: str, session_id: int, energy_wh: int, net_minor: int, **more: Any) -> Part:
    start = datetime(2026, 1, session_id % 28 + 1, 18, tzinfo=UTC)
    values: dict[str, Any] = {
        "account": account,
        "session_id": session_id,
        "start": start,
        "stop": start.replace(hour=20),
        "station_id": "bay-1",
        "station": "Bay 1",
        "token": "card",
        "register_start_wh": 1000,
        "register_stop_wh": 1000 + energy_wh,
        "energy_wh": energy_wh,
        "tariff_id": "spot",
        "tariff": "Spot",
        "costs": (Cost(RATE, net_minor, net_minor // 4),),
        "days": (DayEnergy(start.date(), energy_wh),),
    }
    return Part(**values | more)


@pytest.fixture
def make_part() -> Callable[..., Part]:
    """A session of one account."""
    return part


@pytest.fixture
def inputs() -> RunInputs:
    """January: flat a drew 10 kWh for 8.00, flat b 30 kWh for 24.00, a guest 10 kWh for 30.00."""
    return RunInputs(
        site_id="yard",
        site_name="Yard",
        time_zone="Europe/Oslo",
        currency="NOK",
        period="2026-01",
        issued_at=FEBRUARY,
        terms=Terms(
            issuer=Issuer(name="Yard", tax_id="NO1"), first_month="2026-01", series="Y", credit_series="YC"
        ),
        members=(
            MemberFacts(member_id="a", name="Flat a", spaces=1, space_days=31),
            MemberFacts(member_id="b", name="Flat b", spaces=1, space_days=31),
        ),
        parts=(part("a", 1, 10_000, 800), part("b", 2, 30_000, 2400), part(GUESTS, 3, 10_000, 3000)),
        pools=(
            PoolFacts(
                id="grid",
                name="Grid",
                supplier="Fjord",
                key=Key.KWH,
                amount_minor=1001,
                vat_minor=250,
                vat_percent=RATE,
            ),
        ),
        supply_wh=52_000,
        numbered_from=1,
        issued_on=date(2026, 2, 3),
    )


@pytest.fixture
async def small(database_url: str) -> AsyncIterator[SmallYard]:
    """The small yard at the beginning of January, on either database."""
    clock = ManualClock(START)
    central = Central(Settings(database_url=database_url), clock)
    await central.database.open()
    made = SmallYard(central, clock)
    await made.found()
    yield made
    await central.tasks.close()
    await central.database.close()
