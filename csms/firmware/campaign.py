"""A roll-out: which image to which stations, in which waves, when, and when to stop."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, time
from enum import StrEnum

from csms.errors import Conflict, InvalidInput

MOST_AT_ONCE = 100


class CampaignState(StrEnum):
    """STOPPED: by itself, since too many failed; PAUSED: by a person."""

    READY = "ready"
    RUNNING = "running"
    PAUSED = "paused"
    STOPPED = "stopped"
    FINISHED = "finished"
    CANCELLED = "cancelled"


class CampaignEvent(StrEnum):
    START = "start"
    PAUSE = "pause"
    FAIL = "fail"
    FINISH = "finish"
    CANCEL = "cancel"


TRANSITIONS: Mapping[tuple[CampaignState, CampaignEvent], CampaignState] = {
    (CampaignState.READY, CampaignEvent.START): CampaignState.RUNNING,
    (CampaignState.PAUSED, CampaignEvent.START): CampaignState.RUNNING,
    (CampaignState.STOPPED, CampaignEvent.START): CampaignState.RUNNING,
    (CampaignState.RUNNING, CampaignEvent.PAUSE): CampaignState.PAUSED,
    (CampaignState.RUNNING, CampaignEvent.FAIL): CampaignState.STOPPED,
    (CampaignState.RUNNING, CampaignEvent.FINISH): CampaignState.FINISHED,
    (CampaignState.READY, CampaignEvent.CANCEL): CampaignState.CANCELLED,
    (CampaignState.RUNNING, CampaignEvent.CANCEL): CampaignState.CANCELLED,
    (CampaignState.PAUSED, CampaignEvent.CANCEL): CampaignState.CANCELLED,
    (CampaignState.STOPPED, CampaignEvent.CANCEL): CampaignState.CANCELLED,
}


def follow(state: CampaignState, event: CampaignEvent) -> CampaignState:
    """The state after `event`. Raises Conflict when it cannot follow."""
    following = TRANSITIONS.get((state, event))
    if following is None:
        raise Conflict(f"a campaign that is {state.value} takes no {event.value}")
    return following


@dataclass(frozen=True, slots=True, kw_only=True)
class Campaign:
    """`canaries` go first and alone; then at most `at_once` at a time. From `from_local` to `to_local` of the
    site's day, all day when they are equal. It stops when more than `most_failed` (0 to 1) of those that are
    over have failed, looked at from `look_after` of them on.

    `forgiven`: failures before the last start by a person, which do not stop it again.
    """

    id: str
    site_id: str
    image_id: str
    canaries: int = 2
    at_once: int = 5
    from_local: time = time(0)
    to_local: time = time(0)
    most_failed: float = 0.1
    look_after: int = 5
    state: CampaignState = CampaignState.READY
    forgiven: int = 0
    created_at: datetime
    created_by: str = ""


def check_campaign(campaign: Campaign) -> Campaign:
    """`campaign`; InvalidInput names the field that is wrong."""
    if not 0 <= campaign.canaries <= MOST_AT_ONCE:
        raise InvalidInput("canaries", f"must be 0 to {MOST_AT_ONCE}")
    if not 1 <= campaign.at_once <= MOST_AT_ONCE:
        raise InvalidInput("at_once", f"must be 1 to {MOST_AT_ONCE}")
    if not 0 <= campaign.most_failed < 1:
        raise InvalidInput("most_failed", "must be from 0 to less than 1, e.g. 0.1 for a tenth")
    if campaign.look_after < 1:
        raise InvalidInput("look_after", "must be at least 1")
    return campaign
