"""The REST interface, version 1: one file per resource and this list."""

from fastapi import APIRouter

from api.v1 import health

OPEN: tuple[APIRouter, ...] = (health.router,)
"""Answer without a key."""

RESOURCES: tuple[APIRouter, ...] = ()
"""Answer those who have a key."""
