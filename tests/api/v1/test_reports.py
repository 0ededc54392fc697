"""Reports over REST. What they add up is checked in tests/api/reports."""

import csv
import io
import xml.etree.ElementTree as ET
from typing import Any

import httpx
import pytest
from openpyxl import load_workbook

from api.reports import REPORTS

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
"""Their SQL is tested on both databases in tests/api/reports."""

MONTH = "/v1/reports/month?site=weavers-yard&month=2026-11"
DAY = "from=2026-11-02&to=2026-11-03"
NEEDED = {"reimbursement": "&rate=0.30"}
"""Parameters that a report cannot be without."""


async def test_the_reports_there_are(reader: httpx.AsyncClient) -> None:
    listed = (await reader.get("/v1/reports")).json()
    assert listed["formats"] == ["json", "csv", "xlsx", "svg"]
    by_id = {each["id"]: each for each in listed["items"]}
    assert list(by_id) == [
        *("month", "energy", "reimbursement", "load", "utilisation", "guests", "losses", "co2"),
    ]
    assert by_id["month"]["by"] == ["member", "token", "station", "site"]
    [rate, member] = by_id["reimbursement"]["parameters"]
    assert (rate["name"], rate["required"], member["required"]) == ("rate", True, False)
    energy = next(column for column in by_id["energy"]["columns"] if column["name"] == "energy_wh")
    assert energy == {"name": "energy_wh", "title": "Energy, Wh", "unit": "Wh"}


async def test_every_report_in_every_form(reader: httpx.AsyncClient, supply: dict[str, Any]) -> None:
    for name in (kind.id for kind in REPORTS):
        url = f"/v1/reports/{name}?site=weavers-yard&{DAY}{NEEDED.get(name, '')}"
        told = (await reader.get(url)).json()
        assert (told["report"], told["site_id"]) == (name, "weavers-yard")
        assert told["notes"]
        columns = [column["name"] for column in told["columns"]]
        written = await reader.get(f"{url}&format=csv")
        assert written.headers["content-type"] == "text/csv; charset=utf-8"
        assert next(csv.reader(io.StringIO(written.text))) == ["row", *columns]
        book = await reader.get(f"{url}&format=xlsx")
        assert book.headers["content-disposition"].startswith(f'attachment; filename="{name}-2026-11-02-')
        [header, *_] = load_workbook(io.BytesIO(book.content))["Report"].iter_rows(values_only=True)
        assert header == ("Row", *(column["title"] for column in told["columns"]))
        drawn = await reader.get(f"{url}&format=svg")
        assert drawn.headers["content-type"] == "image/svg+xml"
        assert ET.fromstring(drawn.text).tag == "{http://www.w3.org/2000/svg}svg"


async def test_a_month_as_json_and_as_csv(reader: httpx.AsyncClient, yard: dict[str, Any]) -> None:
    told = (await reader.get(MONTH)).json()
    assert (told["site_id"], told["month"], told["by"]) == ("weavers-yard", "2026-11", "member")
    assert told["totals"][0]["energy_wh"] == 0
    written = await reader.get(f"{MONTH}&by=station&format=csv")
    assert written.headers["content-disposition"] == 'attachment; filename="month-2026-11-by-station.csv"'
    rows = list(csv.DictReader(io.StringIO(written.text)))
    assert rows[-1]["row"] == "total"
    assert rows[-1]["energy_wh"] == "0"


async def test_a_period_by_days(reader: httpx.AsyncClient, yard: dict[str, Any]) -> None:
    url = "/v1/reports/energy?site=weavers-yard&from=2026-10-25&to=2026-10-26&by=hour"
    told = (await reader.get(url)).json()
    assert (told["from"], told["to"]) == ("2026-10-24T22:00:00+00:00", "2026-10-25T23:00:00+00:00")
    assert len(told["items"]) == 25


REFUSED = (
    ("month?month=2026-11", 422, "site"),
    ("month?site=weavers-yard", 422, "month"),
    ("month?site=weavers-yard&month=2026-13", 422, "month"),
    ("month?site=weavers-yard&month=last", 422, "month"),
    ("month?site=weavers-yard&month=2026-11&by=colour", 422, "by"),
    ("month?site=weavers-yard&month=2026-11&format=pdf", 422, "format"),
    ("month?site=weavers-yard&month=2026-11&from=2026-11-01", 422, "month"),
    ("month?site=weavers-yard&from=2026-11-01", 422, "to"),
    ("month?site=weavers-yard&from=2026-11-01&to=2026-10-01", 422, "to"),
    ("month?site=weavers-yard&from=soon&to=2026-10-01", 422, "from"),
    ("month?site=weavers-yard&month=2026-11&colour=red", 422, "colour"),
    ("load?site=weavers-yard&from=2026-01-01&to=2026-12-01", 422, "to"),
    ("reimbursement?site=weavers-yard&month=2026-11", 422, "rate"),
    ("reimbursement?site=weavers-yard&month=2026-11&rate=much", 422, "rate"),
    ("guests?site=weavers-yard&month=2026-11&energy_price=-1", 422, "energy_price"),
    ("load?site=weavers-yard&month=2026-11&circuit=attic", 404, None),
    ("month?site=nowhere&month=2026-11", 404, None),
    ("nothing?site=weavers-yard&month=2026-11", 404, None),
)
"""Path, status, and the field that the problem names."""


async def test_a_report_that_cannot_be_is_refused(reader: httpx.AsyncClient, yard: dict[str, Any]) -> None:
    for path, status, field in REFUSED:
        refused = await reader.get(f"/v1/reports/{path}")
        assert (refused.status_code, refused.json().get("field")) == (status, field), refused.text
