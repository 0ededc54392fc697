"""The application as a whole."""

from typing import Any

import httpx
import pytest
from fastapi import FastAPI

METHODS = {"get", "post", "put", "patch", "delete"}


@pytest.fixture
async def document(stranger: httpx.AsyncClient) -> dict[str, Any]:
    found: dict[str, Any] = (await stranger.get("/openapi.json")).json()
    return found


async def test_the_document_is_open_and_names_the_problem(document: dict[str, Any]) -> None:
    assert document["info"]["title"] == "Phaseyard"
    assert set(document["components"]["schemas"]["Problem"]["required"]) == {
        "title",
        "status",
        "detail",
        "code",
    }
    assert "HTTPValidationError" not in document["components"]["schemas"]


async def test_all_but_health_needs_a_key(document: dict[str, Any], stranger: httpx.AsyncClient) -> None:
    for path, operations in document["paths"].items():
        for method in METHODS & set(operations):
            answer = await stranger.request(method, path.replace("{", "").replace("}", ""))
            assert (answer.status_code == 401) is (path != "/v1/health"), (method, path)
            assert ("security" in operations[method]) is (path != "/v1/health"), (method, path)


async def test_every_operation_says_what_it_does(document: dict[str, Any]) -> None:
    for path, operations in document["paths"].items():
        for method in METHODS & set(operations):
            assert operations[method].get("description"), (method, path)


def test_no_page_loads_a_script_of_somebody_else(app: FastAPI) -> None:
    assert app.docs_url is None
    assert app.redoc_url is None
