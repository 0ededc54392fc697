"""Which messages are due, and when one that failed is tried again. Pure."""

from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum

from csms.alarms.alarm import STANDING, Alarm, AlarmState
from csms.alarms.routes import ChannelKind, Route, routes_for

AGAIN_AFTER = (
    timedelta(minutes=1),
    timedelta(minutes=5),
    timedelta(minutes=15),
    timedelta(hours=1),
    timedelta(hours=3),
    timedelta(hours=6),
    timedelta(hours=12),
)
"""Waits between tries; about a day in all, then it is given up and shown as such."""


class Occasion(StrEnum):
    """Why somebody is told."""

    RAISED = "raised"
    CLEARED = "cleared"


class DeliveryState(StrEnum):
    WAITING = "waiting"
    SENT = "sent"
    GIVEN_UP = "given_up"


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """One message to one address. `route_id` None: to a member who is concerned."""

    id: int = 0
    alarm_id: int
    route_id: str | None
    channel: ChannelKind
    address: str
    occasion: Occasion
    state: DeliveryState = DeliveryState.WAITING
    attempts: int = 0
    next_at: datetime
    error: str = ""
    sent_at: datetime | None = None


def wanted(
    alarm: Alarm, routes: Sequence[Route], told: Set[tuple[str | None, Occasion]], now: datetime
) -> tuple[Delivery, ...]:
    """Messages of `alarm` that nobody has put down yet. `told`: routes and occasions put down before.

    A route with a delay is escalation: it is left out once somebody has taken the alarm on. Who
    was told of the beginning is told of the end; nobody else is.
    """
    made = []
    for route in routes_for(routes, alarm.site_id, alarm.severity):
        began = (route.id, Occasion.RAISED)
        if began not in told:
            if _concerns(alarm, route, now):
                made.append(_delivery(alarm, route, Occasion.RAISED, now))
        elif alarm.state is AlarmState.CLEARED and (route.id, Occasion.CLEARED) not in told:
            made.append(_delivery(alarm, route, Occasion.CLEARED, now))
    return tuple(made)


def _concerns(alarm: Alarm, route: Route, now: datetime) -> bool:
    if alarm.state not in STANDING or alarm.raised_at is None:
        return False
    if not route.after_s:
        return True
    waited = now - alarm.raised_at >= timedelta(seconds=route.after_s)
    return alarm.state is AlarmState.RAISED and waited


def _delivery(alarm: Alarm, route: Route, occasion: Occasion, now: datetime) -> Delivery:
    return Delivery(
        alarm_id=alarm.id,
        route_id=route.id,
        channel=route.channel,
        address=route.address,
        occasion=occasion,
        next_at=now,
    )


def to_members(alarm: Alarm, addresses: Iterable[str], now: datetime) -> tuple[Delivery, ...]:
    """Messages to the members whose cars are concerned."""
    return tuple(
        Delivery(
            alarm_id=alarm.id,
            route_id=None,
            channel=ChannelKind.MAIL,
            address=address,
            occasion=Occasion.RAISED,
            next_at=now,
        )
        for address in sorted(set(addresses))
        if address
    )


def after_success(delivery: Delivery, now: datetime) -> Delivery:
    return replace(delivery, state=DeliveryState.SENT, attempts=delivery.attempts + 1, error="", sent_at=now)


def after_failure(delivery: Delivery, error: str, now: datetime) -> Delivery:
    """It waits for its next try, or is given up after the last."""
    tried = delivery.attempts + 1
    if tried > len(AGAIN_AFTER):
        return replace(delivery, state=DeliveryState.GIVEN_UP, attempts=tried, error=error[:255])
    return replace(delivery, attempts=tried, error=error[:255], next_at=now + AGAIN_AFTER[tried - 1])
