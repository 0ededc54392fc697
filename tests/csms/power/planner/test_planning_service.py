"""All of planning in one hand, as the composition root ties it."""

from typing import Any

import pytest

from csms.stations.words.needs import NeedsReported
from csms.store.outbox import Fact
from tests.conftest import NOON


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
async def test_it_is_tied_to_what_it_must_hear_of(world: Any) -> None:
    central = world.central
    planning = central.planning
    assert central.dispatcher.unowned([NeedsReported]) == []
    asked: list[str] = []
    planning.planner.poke = lambda site_id, cause: asked.append(cause)
    planning.needs.changed("yard")
    planning.prices.changed("yard")
    assert asked == ["a need has changed", "prices have changed"]
    assert planning.planner.site_fact in [call for _, call in central.relay._followers]
    fact = Fact(topic="site.changed", at=NOON, site_id=None, subject="", body={})
    await planning.planner.site_fact(1, fact)  # of no site: nothing to do
