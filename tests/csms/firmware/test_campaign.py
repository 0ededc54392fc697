"""A campaign's states and bounds."""

import itertools
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from csms.errors import Conflict, InvalidInput
from csms.firmware.campaign import TRANSITIONS, Campaign, CampaignEvent, CampaignState, check_campaign, follow

CAMPAIGN = Campaign(id="c", site_id="yard", image_id="weft-2", created_at=datetime(2026, 11, 2, tzinfo=UTC))


@pytest.mark.parametrize(("state", "event"), list(itertools.product(CampaignState, CampaignEvent)))
def test_every_pair_leads_somewhere_or_is_refused(state: CampaignState, event: CampaignEvent) -> None:
    if (state, event) in TRANSITIONS:
        assert follow(state, event) is TRANSITIONS[state, event]
    else:
        with pytest.raises(Conflict, match=state.value):
            follow(state, event)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"canaries": 101}, "canaries"),
        ({"at_once": 0}, "at_once"),
        ({"most_failed": 1.0}, "most_failed"),
        ({"look_after": 0}, "look_after"),
    ],
)
def test_bounds_are_named(wrong: dict[str, float], field: str) -> None:
    assert check_campaign(CAMPAIGN) is CAMPAIGN
    with pytest.raises(InvalidInput) as caught:
        check_campaign(replace(CAMPAIGN, **wrong))  # type: ignore[arg-type]
    assert caught.value.field == field
