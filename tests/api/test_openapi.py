"""Requests made up from the OpenAPI document: none is our fault, each answer is as described."""

import asyncio
import contextlib
import socket
import warnings
from collections.abc import AsyncIterator, Iterator
from typing import Any

import httpx
import pytest
import uvicorn
from fastapi import FastAPI
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.core.result import Ok
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    ignored_auth,
    negative_data_rejection,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from csms.app import Central
from csms.stations.model import TokenRef
from csms.stations.questions import TransactionReported, TransactionStep
from csms.tasks import Tasks

EXAMPLES = 8
"""Per operation, and the same in every run. More find more: raise it when routes have changed."""

KNOWN = {
    "site_id": "weavers-yard",
    "circuit_id": "main",
    "station_id": "garage-1",
    "member_id": "flat-12",
    "group_id": "residents",
    "token_id": "card-1",
    "tariff_id": "day",
    "session_id": 1,
}
"""Ids of things that are there, so that requests get behind "there is no such thing"."""

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    negative_data_rejection,
    ignored_auth,
]


class _Server(uvicorn.Server):
    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


@pytest.fixture
async def address(app: FastAPI) -> AsyncIterator[str]:
    """The application behind a real socket, in this loop, since the database belongs to it."""
    listener = socket.create_server(("127.0.0.1", 0))
    server = _Server(uvicorn.Config(app, log_level="critical", access_log=False, lifespan="off"))
    tasks = Tasks()
    serving = tasks.spawn(server.serve([listener]), "server")
    yield f"http://127.0.0.1:{listener.getsockname()[1]}"
    server.should_exit = True
    await serving


@pytest.fixture
async def everything(
    manager: httpx.AsyncClient,
    supply: dict[str, Any],
    flat: dict[str, Any],
    central: Central,
    answering: Any,
) -> None:
    """One of each in KNOWN, with power shared and a station that answers."""
    at_yard = {"site_id": "weavers-yard"}
    component = {"type": "FLAT", "price": 1, "step_size": 1}
    document = {"currency": "NOK", "elements": [{"price_components": [component]}]}
    for path, body in (
        ("stations", at_yard | {"id": "garage-1", "circuit_id": "main", "fallback_a": 6}),
        ("groups", at_yard | {"id": "residents", "name": "Residents"}),
        ("tokens", {"id": "card-1", "text": "04A1B2C3", "member_id": "flat-12"}),
        ("rights", at_yard | {"member_id": "flat-12"}),
        ("tariffs", at_yard | {"id": "day", "name": "By day", "document": document}),
    ):
        made = await manager.post(f"/v1/{path}", json=body)
        assert made.status_code == 201, made.text
    now = central.clock.now()
    began = TransactionReported(
        step=TransactionStep.BEGAN, transaction_id="tx-1", at=now, evse=1, token=TokenRef("04A1B2C3")
    )
    await central.dispatcher.ask("garage-1", began, now)
    await manager.patch("/v1/sites/weavers-yard", json={"active": True})
    await central.power.start()


@pytest.mark.parametrize("database_url", ["postgresql"], indirect=True)
@pytest.mark.timeout(600)
async def test_made_up_requests_are_answered_as_described(
    app: FastAPI, address: str, manager: httpx.AsyncClient, everything: None
) -> None:
    key = manager.headers["authorization"]
    tried = await asyncio.to_thread(_try_all, app.openapi(), address, key)
    assert len(tried) == sum(len(operations) for operations in app.openapi()["paths"].values())
    health = await manager.get("/v1/health")
    assert health.json()["status"] == "good"


def _try_all(document: dict[str, Any], address: str, key: str) -> list[str]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import schemathesis

        schema = schemathesis.openapi.from_dict(document)
        tried = []
        for found in schema.get_all_operations():
            assert isinstance(found, Ok), found
            operation = found.ok()
            _try(operation, address, key)
            tried.append(operation.label)
    return tried


def _try(operation: Any, address: str, key: str) -> None:
    @given(case=operation.as_strategy())
    @settings(
        max_examples=EXAMPLES,
        derandomize=True,
        deadline=None,
        database=None,
        phases=[Phase.explicit, Phase.generate, Phase.shrink],
        suppress_health_check=list(HealthCheck),
    )
    def check(case: Any) -> None:
        headers = {"Authorization": key}
        case.call_and_validate(base_url=address, headers=headers, checks=CHECKS)
        known = {name: KNOWN[name] for name in case.path_parameters or {} if name in KNOWN}
        if known:
            case.path_parameters = {**case.path_parameters, **known}
            # What was made wrong on purpose may have been the id, which is right now.
            checks = [each for each in CHECKS if each is not negative_data_rejection]
            case.call_and_validate(base_url=address, headers=headers, checks=checks)

    check()


async def test_a_planted_fault_is_found(app: FastAPI, address: str, manager: httpx.AsyncClient) -> None:
    """The check above can fail: this route breaks for half of what its description allows."""
    bare = FastAPI()

    @bare.get("/planted")
    async def planted(amps: int) -> int:
        return 10 // max(amps, 0)

    document = bare.openapi()
    app.include_router(bare.router)
    with pytest.raises(BaseException) as caught:
        await asyncio.to_thread(_try_all, document, address, manager.headers["authorization"])
    assert "Server error" in str(caught.value)
