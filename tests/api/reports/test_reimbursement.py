"""What an employer pays back, by hand, on both databases."""

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from sqlalchemy import insert

from api.deps import Central
from csms.errors import NotFound
from csms.store.tables.metering import signed_proof
from tests.api.reports.conftest import Make
from tests.api.reports.sessions import HOUR, charged
from tests.csms.yard import BAY_1, FLAT_12, VAN

FIRST = datetime(2026, 10, 31, 23, tzinfo=UTC)


async def a_month(central: Central) -> int:
    """Flat 12: 3 x 1.005 kWh; the van 10 kWh, with a register that jumped."""
    database = central.database
    for n in range(3):
        number = await charged(
            database, BAY_1, FLAT_12, FIRST + 24 * n * HOUR, 2, 1_005, begin_wh=1_000 + 1_005 * n
        )
    await charged(database, BAY_1, VAN, FIRST, 2, 10_000, register_start_wh=5, marks=("register_jump",))
    await charged(database, BAY_1, None, FIRST, 2, 99_000)
    await charged(database, BAY_1, FLAT_12, FIRST, 1, 0)
    await charged(database, BAY_1, FLAT_12, FIRST - HOUR, 0.5, 77_000)
    row = {"session_id": number, "result": "proven", "reasons": [], "judged_at": FIRST}
    async with database.write() as connection:
        await connection.execute(insert(signed_proof).values(row))
    return number


async def test_each_session_with_registers_and_each_member_rounded_once(central: Central, made: Make) -> None:
    number = await a_month(central)
    report = await made("reimbursement", "2026-11", rate="0.30")
    assert [(row["name"], row["energy_wh"], row["amount"]) for row in report.totals] == [
        # 3.015 kWh x 0.30 = 0.9045; each alone is 0.3015.
        ("flat 12", 3_015, Decimal("0.90")),
        ("van a", 10_000, Decimal("3.00")),
    ]
    rows = {str(row["id"]): row for row in report.items}
    assert len(rows) == 4
    last = rows[f"{number}"]
    assert (last["register_start_wh"], last["register_stop_wh"], last["energy_wh"]) == (3_010, 4_015, 1_005)
    assert (last["amount"], last["signed"], last["marks"]) == (Decimal("0.30"), "proven", "")
    assert [row["signed"] for row in report.items].count("none") == 3
    notes = " ".join(report.notes)
    assert "Marked sessions: 1" in notes
    assert "not the difference of their registers: 1" in notes


async def test_one_member_alone(central: Central, made: Make) -> None:
    await a_month(central)
    report = await made("reimbursement", "2026-11", rate="0.125", member=VAN)
    assert [(row["name"], row["amount"]) for row in report.totals] == [("van a", Decimal("1.25"))]
    with pytest.raises(NotFound):
        await made("reimbursement", "2026-11", rate="1", member="nobody")
