"""The page Access: members, groups and cards; adopt a card, block one, give and take rights."""

from collections.abc import Awaitable, Callable
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import Response

from api.web import access_view
from api.web.desk import back_to, central_of, may_change, page
from api.web.names import names_of, pages_of
from api.web.page_route import NUL, PageRoute
from api.web.site import ThisSite
from csms.access.people.service import SignIn
from csms.errors import Conflict, InvalidInput, NotFound
from csms.sessions.session import SessionFilter
from csms.store.paging import every

router = APIRouter(prefix="/access", include_in_schema=False, route_class=PageRoute)

MayChange = Annotated[SignIn, Depends(may_change)]
Text = Annotated[str, Form(pattern=f"^[^{NUL}]*$")]
LATELY = 20


@router.get("/{site_id}")
async def show(request: Request, site: ThisSite, find: str = "") -> Response:
    central, site_id = central_of(request), site.id
    names = await names_of(central, site)
    members = await every(central.members.list, site_id=site_id)
    tokens = await every(central.tokens.list, site_id=site_id)
    groups = await every(central.groups.list, site_id=site_id)
    rights = await every(central.rights.list, site_id=site_id)
    inside = [(group, await every(central.groups.members_in, group.id)) for group in groups]
    rows = access_view.member_rows(members, tokens, inside, central.clock.now(), site.time_zone)
    who = [access_view.Choice(f"group:{group.id}", f"Group {group.name}") for group in groups]
    who += [access_view.Choice(f"member:{row.id}", row.name) for row in rows]
    where = [access_view.Choice(f"site:{site.id}", f"all of {site.name}")]
    where += [access_view.Choice(f"circuit:{id}", name) for id, name in names.circuits.items()]
    where += [access_view.Choice(f"station:{id}", name) for id, name in names.stations.items()]
    held = await central.unknown_cards.latest(site_id=site_id, limit=10)
    lately = await central.sessions.list(SessionFilter(site_id=site_id), limit=LATELY)
    values = {
        "site": site,
        "zone": site.time_zone,
        "find": find,
        "held": access_view.held_cards(held, names.all),
        "members_all": rows,
        "members": access_view.matching(rows, find),
        "rights": access_view.right_rows(rights, names.all),
        "who_choices": who,
        "where_choices": where,
        "lately": [access_view.session_row(session, names.all) for session in lately.items],
    }
    return page(request, "access.html", values, current="Access", pages=pages_of(site_id))


async def done(site_id: str, change: Awaitable[Any], notice: str | Callable[[Any], str]) -> Response:
    """Carry out `change`, then back to the page with what was done or why it was not."""
    try:
        found = await change
    except (InvalidInput, NotFound, Conflict) as error:
        return back_to(f"/access/{quote(site_id)}", problem=f"Not done: {str(error).rstrip('.')}.")
    text = notice if isinstance(notice, str) else notice(found)
    return back_to(f"/access/{quote(site_id)}", notice=text)


@router.post("/{site_id}/cards/adopt")
async def adopt(
    request: Request, site_id: str, _own: MayChange, text: Text, member_id: Text, label: Text = ""
) -> Response:
    central = central_of(request)

    async def change() -> str:
        token = await central.unknown_cards.adopt(text, member_id=member_id, label=label)
        return (await central.members.get(token.member_id)).name

    def says(name: str) -> str:
        return f"Card {text} is now of {name}. It may charge where {name} may."

    return await done(site_id, change(), says)


@router.post("/{site_id}/cards/dismiss")
async def dismiss(request: Request, site_id: str, _own: MayChange, text: Text) -> Response:
    return await done(site_id, central_of(request).unknown_cards.dismiss(text), f"Card {text} is forgotten.")


@router.post("/{site_id}/cards/new")
async def new_card(
    request: Request, site_id: str, _own: MayChange, text: Text, member_id: Text, label: Text = ""
) -> Response:
    change = central_of(request).tokens.create(text=text, member_id=member_id, label=label)
    return await done(site_id, change, f"Card {text} is added.")


@router.post("/{site_id}/cards/block")
async def block(request: Request, site_id: str, _own: MayChange, token_id: Text) -> Response:
    change = central_of(request).tokens.block(token_id)
    return await done(
        site_id, change, lambda card: f"Card {card.text} is blocked. A session that runs goes on."
    )


@router.post("/{site_id}/cards/unblock")
async def unblock(request: Request, site_id: str, _own: MayChange, token_id: Text) -> Response:
    change = central_of(request).tokens.unblock(token_id)
    return await done(site_id, change, lambda card: f"Card {card.text} is no longer blocked.")


@router.post("/{site_id}/rights/give")
async def give(request: Request, site_id: str, _own: MayChange, who: Text, where: Text) -> Response:
    chosen = dict(choice.partition(":")[::2] for choice in (who, where))
    if not chosen.keys() & {"group", "member"}:
        return back_to(f"/access/{quote(site_id)}", problem="Not done: choose who gets the right.")
    change = central_of(request).rights.give(
        site_id=site_id,
        member_id=chosen.get("member"),
        group_id=chosen.get("group"),
        circuit_id=chosen.get("circuit"),
        station_id=chosen.get("station"),
    )
    return await done(site_id, change, "The right is given.")


@router.post("/{site_id}/rights/take")
async def take(request: Request, site_id: str, _own: MayChange, right_id: Text) -> Response:
    change = central_of(request).rights.take(right_id)
    return await done(site_id, change, "The right is taken away. A session that runs goes on.")
