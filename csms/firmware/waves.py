"""Who is updated next, and whether to go on. Pure."""

from collections.abc import Sequence, Set
from datetime import datetime

from csms.firmware.campaign import Campaign
from csms.firmware.update import BAD, OVER, RUNNING, Update, UpdateState


def in_hours(campaign: Campaign, local: datetime) -> bool:
    """Whether it may begin updates at this time of the site's day."""
    start, end, now = campaign.from_local, campaign.to_local, local.time()
    if start == end:
        return True
    return start <= now < end if start < end else (now >= start or now < end)


def failed(updates: Sequence[Update]) -> int:
    return sum(update.state in BAD for update in updates)


def too_many_failed(campaign: Campaign, updates: Sequence[Update]) -> bool:
    """Whether to stop: a canary has failed, or more than the set share of those that are over."""
    fresh = failed(updates) - campaign.forgiven
    if fresh <= 0:
        return False
    if not campaign.forgiven and any(update.canary and update.state in BAD for update in updates):
        return True
    over = sum(update.state in OVER and update.state is not UpdateState.SKIPPED for update in updates)
    over -= campaign.forgiven
    return over >= campaign.look_after and fresh > campaign.most_failed * over


def next_stations(campaign: Campaign, updates: Sequence[Update], idle: Set[str]) -> tuple[str, ...]:
    """Stations to be told now, of those where nobody charges (`idle`).

    Canaries first; the others only when every canary is over.
    """
    canaries = [update for update in updates if update.canary]
    pool = canaries if any(update.state not in OVER for update in canaries) else updates
    room = campaign.at_once - sum(update.state in RUNNING for update in updates)
    waiting = [update.station_id for update in pool if update.state is UpdateState.WAITING]
    return tuple([station for station in waiting if station in idle][: max(room, 0)])


def is_over(updates: Sequence[Update]) -> bool:
    return all(update.state in OVER for update in updates)
