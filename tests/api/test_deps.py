"""What the routes are given."""

import httpx
from fastapi import APIRouter, FastAPI

from api.deps import TheCentral
from csms.app import Central

router = APIRouter()
given: list[Central] = []


@router.get("/given")
async def take(central: TheCentral) -> None:
    given.append(central)


async def test_a_route_is_given_the_central_of_its_application(
    app: FastAPI, stranger: httpx.AsyncClient, central: Central
) -> None:
    app.include_router(router)
    assert (await stranger.get("/given")).status_code == 200
    assert given.pop() is central
