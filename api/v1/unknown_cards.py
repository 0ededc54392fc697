"""`/v1/unknown-cards`: cards held to a charger that are nobody's yet."""

from typing import Annotated

from fastapi import APIRouter, Path, Query, Response

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Ident, Input, Instant, Output
from api.v1.tokens import Label, TokenOut
from csms.access.cards.card import UnknownCard
from csms.access.tokens.token import Token
from csms.stations.model import TokenKind

router = APIRouter(prefix="/unknown-cards", tags=["unknown cards"], route_class=GuardedRoute)

CardText = Annotated[str, Path(pattern=r"^[^\x00-\x1f\x7f/]{1,255}$")]


class Adoption(Input):
    """Whose the card is from now on."""

    member_id: Ident
    label: Label = ""


class UnknownCardOut(Output):
    """A card and where it was held last."""

    text: str
    folded: str
    kind: TokenKind
    station_id: str
    evse: int | None
    first_seen_at: Instant
    last_seen_at: Instant
    times: int


class UnknownCardsOut(Output):
    """The latest; the list is short by its nature and has no further pages."""

    items: list[UnknownCardOut]
    next: None = None


@router.get("", response_model=UnknownCardsOut)
async def latest(
    central: TheCentral,
    site: Annotated[Ident | None, Query()] = None,
    limit: Annotated[int, Query(ge=1, le=200)] = 50,
) -> dict[str, tuple[UnknownCard, ...]]:
    """The cards held last, newest first."""
    return {"items": await central.unknown_cards.latest(site_id=site, limit=limit)}


@router.post("/{text}/adopt", status_code=201, response_model=TokenOut)
async def adopt(central: TheCentral, text: CardText, body: Adoption, response: Response) -> Token:
    """Make the card a token of a member."""
    token = await central.unknown_cards.adopt(text, member_id=body.member_id, label=body.label)
    response.headers["Location"] = f"/v1/tokens/{token.id}"
    return token


@router.delete("/{text}", status_code=204)
async def dismiss(central: TheCentral, text: CardText) -> None:
    """Forget the card; it comes back when it is held to a charger again."""
    await central.unknown_cards.dismiss(text)
