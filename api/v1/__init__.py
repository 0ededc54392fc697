"""The REST interface, version 1: one file per resource and this list."""

from fastapi import APIRouter

from api.v1 import (
    alarm_routes,
    alarms,
    caps,
    circuits,
    commands,
    events,
    groups,
    health,
    market_prices,
    locations,
    members,
    meter_keys,
    meters,
    orphans,
    places,
    power,
    reports,
    rights,
    self_tests,
    sessions,
    signed_data,
    site_files,
    sites,
    stations,
    tariffs,
    tokens,
    unknown_cards,
    wiring,
)

OPEN: tuple[APIRouter, ...] = (health.router,)
"""Answer without a key."""

RESOURCES: tuple[APIRouter, ...] = (
    site_files.router,
    sites.router,
    locations.router,
    circuits.router,
    caps.router,
    meters.router,
    stations.router,
    places.router,
    wiring.router,
    commands.router,
    power.router,
    members.router,
    groups.router,
    tokens.router,
    rights.router,
    unknown_cards.router,
    sessions.router,
    orphans.router,
    signed_data.router,
    meter_keys.router,
    tariffs.router,
    market_prices.router,
    reports.router,
    alarms.router,
    alarm_routes.router,
    self_tests.router,
    events.router,
)
"""Answer those who have a key."""
