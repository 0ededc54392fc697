"""`/v1/health`: is this node fit to serve? Needs no key, so it tells nothing but that."""

from typing import Literal

from fastapi import APIRouter

from api.deps import TheCentral
from api.fields import Output

router = APIRouter(tags=["health"])


class Health(Output):
    """`database`: whether it answers."""

    status: Literal["good", "bad"]
    database: Literal["reachable", "unreachable"]


@router.get("/health", responses={503: {"model": Health, "description": "This node cannot serve"}})
async def health(central: TheCentral) -> Health:
    """Whether this node can serve."""
    return Health(status="good", database="reachable")
