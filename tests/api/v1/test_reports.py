"""Reports over REST. What they add up is checked in tests/api/reports."""

import csv
import io
from typing import Any

import httpx
import pytest

MONTH = "/v1/reports/month?site=weavers-yard&month=2026-11"


async def test_the_reports_there_are(reader: httpx.AsyncClient) -> None:
    listed = (await reader.get("/v1/reports")).json()["items"]
    assert {"id": "month", "by": ["member", "token", "station", "site"]}.items() <= listed[0].items()


async def test_a_month_as_json_and_as_csv(reader: httpx.AsyncClient, yard: dict[str, Any]) -> None:
    told = (await reader.get(MONTH)).json()
    assert (told["site_id"], told["month"], told["by"]) == ("weavers-yard", "2026-11", "member")
    assert told["totals"][0]["energy_wh"] == 0
    written = await reader.get(f"{MONTH}&by=station&format=csv")
    assert written.headers["content-type"] == "text/csv; charset=utf-8"
    assert written.headers["content-disposition"] == 'attachment; filename="month-2026-11-by-station.csv"'
    rows = list(csv.DictReader(io.StringIO(written.text)))
    assert rows[-1]["row"] == "total"
    assert rows[-1]["energy_wh"] == "0"


@pytest.mark.parametrize(
    ("query", "status", "field"),
    [
        ("month=2026-11", 422, "site"),
        ("site=weavers-yard", 422, "month"),
        ("site=weavers-yard&month=2026-13", 422, "month"),
        ("site=weavers-yard&month=last", 422, "month"),
        ("site=weavers-yard&month=2026-11&by=colour", 422, "by"),
        ("site=weavers-yard&month=2026-11&format=pdf", 422, "format"),
        ("site=nowhere&month=2026-11", 404, None),
    ],
)
async def test_a_report_that_cannot_be_is_refused(
    reader: httpx.AsyncClient, yard: dict[str, Any], query: str, status: int, field: str | None
) -> None:
    refused = await reader.get(f"/v1/reports/month?{query}")
    assert (refused.status_code, refused.json().get("field")) == (status, field)
