"""Every refusal is a problem document."""

from typing import Annotated

import httpx
import pytest
from fastapi import APIRouter, FastAPI, Query
from starlette.exceptions import HTTPException

from api.errors import MEDIA_TYPE
from api.fields import Input, Instant, LineAmps, Text
from csms.errors import (
    Conflict,
    InvalidInput,
    NotFound,
    OurFault,
    PhaseyardError,
    StationOffline,
    StationSilent,
)

ERRORS: dict[str, Exception] = {
    "input": InvalidInput("limit_a.L1", "must not be negative, but is -1 A"),
    "missing": NotFound("site", "weavers-yard"),
    "conflict": Conflict("the site is active"),
    "offline": StationOffline("CP-01"),
    "silent": StationSilent("CP-01"),
    "fault": OurFault("the secret is 4711"),
    "unexpected": RuntimeError("the secret is 4711"),
    "plain": PhaseyardError("something"),
    "teapot": HTTPException(418, "no coffee", {"X-Kind": "teapot"}),
}


class Bay(Input):
    name: Text
    limit_a: LineAmps = (0.0, 0.0, 0.0)
    since: Instant | None = None


router = APIRouter()


@router.get("/raise/{which}")
async def fail(which: str) -> None:
    raise ERRORS[which]


@router.post("/bays")
async def take(bay: Bay, times: Annotated[int, Query(ge=1)] = 1) -> Bay:
    return bay


@pytest.fixture(autouse=True)
def probes(app: FastAPI) -> None:
    app.include_router(router)


@pytest.mark.parametrize(
    ("which", "status", "code", "title"),
    [
        ("input", 422, "invalid-input", "Unprocessable Entity"),
        ("missing", 404, "not-found", "Not Found"),
        ("conflict", 409, "conflict", "Conflict"),
        ("offline", 409, "station-offline", "Conflict"),
        ("silent", 504, "station-silent", "Gateway Timeout"),
        ("fault", 500, "our-fault", "Internal Server Error"),
        ("plain", 500, "our-fault", "Internal Server Error"),
        ("unexpected", 500, "our-fault", "Internal Server Error"),
    ],
)
async def test_each_exception_has_its_status(
    stranger: httpx.AsyncClient, which: str, status: int, code: str, title: str
) -> None:
    answer = await stranger.get(f"/raise/{which}")
    assert answer.status_code == status
    assert answer.headers["content-type"] == MEDIA_TYPE
    told = answer.json()
    # RFC 9457, 4.2.1: with about:blank the title is the status' recommended phrase.
    assert {key: told[key] for key in ("type", "status", "code", "title")} == {
        "type": "about:blank",
        "status": status,
        "code": code,
        "title": title,
    }
    assert told["detail"]


async def test_a_wrong_value_names_its_field(stranger: httpx.AsyncClient) -> None:
    told = (await stranger.get("/raise/input")).json()
    assert told["field"] == "limit_a.L1"
    assert told["errors"] == [{"field": "limit_a.L1", "problem": "must not be negative, but is -1 A"}]


@pytest.mark.parametrize("which", ["fault", "unexpected"])
async def test_a_fault_of_ours_tells_nothing_and_is_logged(
    stranger: httpx.AsyncClient, which: str, caplog: pytest.LogCaptureFixture
) -> None:
    answer = await stranger.get(f"/raise/{which}")
    assert "4711" not in answer.text
    assert "4711" in caplog.text


async def test_an_unknown_route_a_wrong_method_and_a_teapot(stranger: httpx.AsyncClient) -> None:
    unknown = await stranger.get("/nowhere")
    assert (unknown.status_code, unknown.json()["code"]) == (404, "not-found")
    wrong = await stranger.delete("/bays")
    assert (wrong.status_code, wrong.json()["code"]) == (405, "method-not-allowed")
    assert wrong.headers["allow"] == "POST"
    teapot = await stranger.get("/raise/teapot")
    assert (teapot.status_code, teapot.headers["x-kind"]) == (418, "teapot")
    assert {each.headers["content-type"] for each in (unknown, wrong, teapot)} == {MEDIA_TYPE}


async def post(client: httpx.AsyncClient, content: str, query: str = "") -> dict[str, str]:
    """The problems by field."""
    answer = await client.post(f"/bays{query}", content=content, headers={"content-type": "application/json"})
    assert answer.status_code == 422, answer.text
    assert answer.headers["content-type"] == MEDIA_TYPE
    return {each["field"]: each["problem"] for each in answer.json()["errors"]}


async def test_all_wrong_fields_are_named_at_once(stranger: httpx.AsyncClient) -> None:
    body = '{"name": 5, "limit_a": {"L4": 1}, "since": "2026-11-02T18:00:00", "colour": "red"}'
    told = await post(stranger, body, "?times=0")
    assert set(told) == {"name", "limit_a", "since", "colour", "times"}
    assert told["limit_a"] == "there is no line 'L4'; give L1, L2, L3 or one number for all"
    assert told["colour"] == "there is no such field here; remove it"


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ("", "body"),
        ("[]", "body"),
        ("{", "body"),
        ("null", "body"),
        ("{}", "name"),
        ('{"name": "x", "limit_a": [1, 2, 3]}', "limit_a"),
        ('{"name": "x", "limit_a": {"L1": -1}}', "limit_a"),
        ('{"name": "x", "limit_a": NaN}', "limit_a"),
        ('{"name": "x", "limit_a": 1e400}', "limit_a"),
        ('{"name": "x", "limit_a": true}', "limit_a"),
        ('{"name": "x", "limit_a": "63"}', "limit_a"),
        ('{"name": ""}', "name"),
        ('{"name": "a\\u0000b"}', "name"),
        ('{"name": "\\ud800"}', "name"),
        ('{"name": "x", "since": 1762102800}', "since"),
        ('{"name": "x", "since": "1762102800"}', "since"),
        ('{"name": "x", "since": "2026-02-30T10:00:00Z"}', "since"),
        ('{"name": "x", "since": "9999-12-31T23:59:59-12:00"}', "since"),
    ],
)
async def test_what_is_no_sound_body_is_refused(stranger: httpx.AsyncClient, body: str, field: str) -> None:
    assert field in await post(stranger, body)


@pytest.mark.parametrize("body", ["[" * 100_000, '{"name": ' + "9" * 5000 + "}"])
async def test_a_body_that_breaks_the_reader_is_a_bad_request(stranger: httpx.AsyncClient, body: str) -> None:
    answer = await stranger.post("/bays", content=body, headers={"content-type": "application/json"})
    assert answer.status_code in (400, 422)
    assert answer.headers["content-type"] == MEDIA_TYPE


async def test_one_number_stands_for_all_lines_and_times_come_back_in_utc(
    stranger: httpx.AsyncClient,
) -> None:
    sent = {"name": "Bay 1", "limit_a": 63, "since": "2026-11-02T18:00:00+01:00"}
    answer = await stranger.post("/bays", json=sent)
    assert answer.json() == {
        "name": "Bay 1",
        "limit_a": {"L1": 63.0, "L2": 63.0, "L3": 63.0},
        "since": "2026-11-02T17:00:00Z",
    }
