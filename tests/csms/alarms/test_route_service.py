"""Who is told, kept on both databases."""

import pytest

from csms.alarms.alarm import Severity
from csms.alarms.route_service import AlarmRoutes
from csms.alarms.routes import ChannelKind
from csms.errors import InvalidInput, NotFound
from tests.csms.yard import SITE


async def test_a_route_is_made_changed_and_removed(routes: AlarmRoutes) -> None:
    route = await routes.create(channel=ChannelKind.MAIL, address="board@weavers.example", site_id=SITE)
    assert route.secret == ""
    changed = await routes.update(route.id, lowest=Severity.URGENT, active=False)
    assert (await routes.get(route.id)) == changed
    assert (await routes.list(site_id=SITE)).items == (changed,)
    assert (await routes.list(site_id="mill")).items == ()
    await routes.delete(route.id)
    with pytest.raises(NotFound):
        await routes.get(route.id)
    with pytest.raises(NotFound):
        await routes.delete(route.id)


async def test_a_route_of_all_sites_is_listed_for_each(routes: AlarmRoutes) -> None:
    route = await routes.create(channel=ChannelKind.WEBHOOK, address="https://weavers.example/hook")
    assert route.secret.startswith("whsec_")
    assert (await routes.list(site_id="mill")).items == (route,)


async def test_what_is_wrong_is_named(routes: AlarmRoutes) -> None:
    with pytest.raises(InvalidInput, match="site_id"):
        await routes.create(channel=ChannelKind.MAIL, address="board@weavers.example", site_id="moon")
    with pytest.raises(InvalidInput, match="address"):
        await routes.create(channel=ChannelKind.MAIL, address="board")
    route = await routes.create(channel=ChannelKind.MAIL, address="board@weavers.example")
    with pytest.raises(InvalidInput, match="after_s"):
        await routes.update(route.id, after_s=-1)
