"""One look serves all who look, and costs a handful of queries."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

import httpx
import pytest

from api.web.panels import AT_MOST_EVERY_S, NAMES_HOLD_S, Panels
from csms.app import Central
from csms.sites.model import Site

HANDFUL = 4
"""What a look asks the database: facts, stations, EVSEs, running sessions."""


class Watch:
    """Panels whose clock stands until it is moved; counts how often the database is read."""

    def __init__(self, central: Central, monkeypatch: pytest.MonkeyPatch) -> None:
        self.panels = Panels(central)
        self.reads = 0
        self.now_s = 1000.0
        read = central.database.read

        @asynccontextmanager
        async def counted() -> AsyncIterator[Any]:
            self.reads += 1
            async with read() as connection:
                yield connection

        monkeypatch.setattr(central.database, "read", counted)
        monkeypatch.setattr(self.panels, "_now_s", lambda: self.now_s)

    async def later(self, site: Site, by_s: float = AT_MOST_EVERY_S) -> tuple[dict[str, str], int]:
        """What is shown after a while, and what it cost."""
        self.now_s += by_s
        before = self.reads
        return await self.panels.of(site), self.reads - before


@pytest.fixture
async def site(central: Central, garage: None) -> Site:
    return await central.sites.get_site("weavers-yard")


@pytest.fixture
def watch(central: Central, monkeypatch: pytest.MonkeyPatch) -> Watch:
    return Watch(central, monkeypatch)


async def test_a_second_viewer_costs_nothing(watch: Watch, site: Site) -> None:
    first, _ = await watch.later(site)
    assert await watch.later(site, by_s=0) == (first, 0)
    assert await watch.later(site, by_s=AT_MOST_EVERY_S / 2) == (first, 0)


async def test_a_look_costs_a_handful_of_queries(watch: Watch, site: Site) -> None:
    _, first = await watch.later(site)
    assert first > HANDFUL, "the names are read as well"
    assert [(await watch.later(site))[1] for _ in range(3)] == [HANDFUL] * 3


async def test_another_name_is_shown_at_the_next_look(
    watch: Watch, site: Site, manager: httpx.AsyncClient
) -> None:
    parts, _ = await watch.later(site)
    assert "<h3>Supply" in parts["supply"]
    changed = await manager.patch("/v1/circuits/main", json={"name": "Mill supply"})
    assert changed.status_code == 200, changed.text
    parts, reads = await watch.later(site)
    assert "<h3>Mill supply" in parts["supply"]
    assert reads > HANDFUL
    assert (await watch.later(site))[1] == HANDFUL


async def test_names_are_read_anew_once_a_minute_whatever_the_facts_say(watch: Watch, site: Site) -> None:
    await watch.later(site)
    assert (await watch.later(site, by_s=NAMES_HOLD_S))[1] > HANDFUL


async def test_a_page_that_is_loaded_shows_what_is_true_now(
    watch: Watch, site: Site, manager: httpx.AsyncClient
) -> None:
    await watch.later(site)
    await manager.post("/v1/stations", json={"id": "garage-2", "name": "Bay 2", "site_id": site.id})
    assert "Bay 2" not in (await watch.later(site, by_s=0))[0]["bays"]
    assert "Bay 2" in (await watch.panels.fresh(site))["bays"]


async def test_a_site_that_is_not_active_says_so(watch: Watch, site: Site) -> None:
    parts, _ = await watch.later(site)
    assert set(parts) == {"totals", "supply", "bays", "events"}
    assert "The site is not active" in parts["totals"]
    assert "12:00:00</time> Europe/Oslo" in parts["totals"], "eleven UTC"
