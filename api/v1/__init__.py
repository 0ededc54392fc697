"""The REST interface, version 1: one file per resource and this list."""

from fastapi import APIRouter

from api.v1 import circuits, events, groups, health, members, rights, sites, stations, tokens, unknown_cards

OPEN: tuple[APIRouter, ...] = (health.router,)
"""Answer without a key."""

RESOURCES: tuple[APIRouter, ...] = (
    sites.router,
    circuits.router,
    stations.router,
    members.router,
    groups.router,
    tokens.router,
    rights.router,
    unknown_cards.router,
    events.router,
)
"""Answer those who have a key."""
