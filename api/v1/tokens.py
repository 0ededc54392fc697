"""`/v1/tokens`: cards, app tokens and key codes, each of one member."""

from typing import Annotated

from fastapi import APIRouter, Query, Response
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Ident, Input, Instant, Note, Output, absent
from api.pagination import After, Cursors, Limit, PageOut
from csms.access.tokens.token import LONGEST_LABEL, LONGEST_TEXT, Token
from csms.stations.model import TokenKind
from csms.store.paging import Page

router = APIRouter(prefix="/tokens", tags=["tokens"], route_class=GuardedRoute)
cursors = Cursors("tokens")

TokenText = Annotated[str, Field(min_length=1, max_length=LONGEST_TEXT)]
Label = Annotated[Note, Field(max_length=LONGEST_LABEL)]


class NewToken(Input):
    """`text` in any spelling: case, blanks and separators do not count.

    `group_text`: OCPP's parent or group token; cards of one group may stop each other's sessions.
    """

    id: Ident | None = None
    text: TokenText = Field(examples=["04:A1:B2:C3"])
    kind: TokenKind = Field(default=TokenKind.RFID, strict=False)
    member_id: Ident
    label: Label = ""
    group_text: Note = ""
    valid_from: Instant | None = None
    valid_to: Instant | None = None


class TokenChange(Input):
    """What is left out stays; a new owner counts from the next session on."""

    member_id: Ident = Field(default_factory=absent)
    label: Label = Field(default_factory=absent)
    group_text: Note = Field(default_factory=absent)
    valid_from: Instant | None = None
    valid_to: Instant | None = None


class TokenOut(Output):
    """A token; `folded` is what it is compared by."""

    id: str
    text: str
    folded: str
    kind: TokenKind
    member_id: str
    label: str
    group_text: str
    valid_from: Instant | None
    valid_to: Instant | None
    blocked: bool
    created_at: Instant


@router.get("", response_model=PageOut[TokenOut])
async def list_tokens(
    central: TheCentral,
    site: Annotated[Ident | None, Query()] = None,
    member: Annotated[Ident | None, Query()] = None,
    text: Annotated[str | None, Query(max_length=LONGEST_TEXT, description="In any spelling")] = None,
    limit: Limit = 50,
    after: After = None,
) -> Page[Token]:
    """Tokens that fit all that is given, by id."""
    return cursors.write(
        await central.tokens.list(
            site_id=site, member_id=member, text=text, after=cursors.read(after), limit=limit
        )
    )


@router.post("", status_code=201, response_model=TokenOut)
async def create_token(central: TheCentral, body: NewToken, response: Response) -> Token:
    """A new token of a member."""
    token = await central.tokens.create(
        id=body.id,
        text=body.text,
        kind=body.kind,
        member_id=body.member_id,
        label=body.label,
        group_text=body.group_text,
        valid_from=body.valid_from,
        valid_to=body.valid_to,
    )
    response.headers["Location"] = f"/v1/tokens/{token.id}"
    return token


@router.get("/{token_id}", response_model=TokenOut)
async def get_token(central: TheCentral, token_id: Id) -> Token:
    """One token."""
    return await central.tokens.get(token_id)


@router.patch("/{token_id}", response_model=TokenOut)
async def change_token(central: TheCentral, token_id: Id, body: TokenChange) -> Token:
    """Change what is given."""
    return await central.tokens.update(token_id, **body.given())


@router.delete("/{token_id}", status_code=204)
async def delete_token(central: TheCentral, token_id: Id) -> None:
    """Remove a token that was never used; block any other."""
    await central.tokens.delete(token_id)


@router.post("/{token_id}/block", response_model=TokenOut)
async def block(central: TheCentral, token_id: Id) -> Token:
    """Refuse the token from now on; a running session goes on."""
    return await central.tokens.block(token_id)


@router.post("/{token_id}/unblock", response_model=TokenOut)
async def unblock(central: TheCentral, token_id: Id) -> Token:
    """Take the token again."""
    return await central.tokens.unblock(token_id)
