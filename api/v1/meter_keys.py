"""`/v1/meter-keys`: the public keys by which meters' signed data are verified."""

from typing import Annotated

from fastapi import APIRouter, Query, Response
from pydantic import Field

from api.auth import Asking, GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Input, Instant, Note, Output, absent
from api.pagination import After, Cursors, Limit, PageOut
from csms.metering.signed.keys.meter_key import KeyState, MeterKey
from csms.metering.signed.public_key import LONGEST
from csms.store.paging import Page

router = APIRouter(prefix="/meter-keys", tags=["signed meter data"], route_class=GuardedRoute)
cursors = Cursors("meter-keys")

Serial = Annotated[str, Field(min_length=1, max_length=64)]


class NewKey(Input):
    """A key that you vouch for: from the meter's nameplate, its maker or a register of keys."""

    serial: Serial
    public_key: str = Field(max_length=LONGEST, description="SubjectPublicKeyInfo (DER) in hex or base64")
    valid_from: Instant | None = None
    valid_to: Instant | None = None
    note: Note = ""


class KeyChanges(Input):
    """What may be changed; null takes a bound away."""

    valid_from: Instant | None = absent()
    valid_to: Instant | None = absent()
    note: Note = absent()


class KeyOut(Output):
    """A key. `unconfirmed`: it came with the data and proves nothing until you confirm it.

    `supported`: whether signatures on its curve can be verified here.
    """

    id: str
    serial: str
    state: KeyState
    curve: str
    supported: bool
    public_key: str = Field(description="DER in hex")
    fingerprint: str = Field(description="SHA-256 of the DER")
    valid_from: Instant | None
    valid_to: Instant | None
    note: str
    source: str
    created_at: Instant
    confirmed_at: Instant | None


@router.get("", response_model=PageOut[KeyOut])
async def list_keys(
    central: TheCentral,
    serial: Annotated[Serial | None, Query()] = None,
    state: KeyState | None = None,
    limit: Limit = 50,
    after: After = None,
) -> Page[KeyOut]:
    """All keys, or those of one meter or state."""
    found = await central.meter_keys.list(serial, state, after=cursors.read(after), limit=limit)
    page = cursors.write(found)
    return Page(tuple(map(_shown, page.items)), page.next)


@router.post("", status_code=201, response_model=KeyOut)
async def add(central: TheCentral, asking: Asking, body: NewKey, response: Response) -> KeyOut:
    """Add a key as confirmed. What the meter has signed before is judged anew."""
    made = await central.meter_keys.add(
        serial=body.serial,
        public_key=body.public_key,
        by=str(asking),
        valid_from=body.valid_from,
        valid_to=body.valid_to,
        note=body.note,
    )
    response.headers["Location"] = f"/v1/meter-keys/{made.id}"
    return _shown(made)


@router.get("/{key_id}", response_model=KeyOut)
async def get(central: TheCentral, key_id: Id) -> KeyOut:
    """One key."""
    return _shown(await central.meter_keys.get(key_id))


@router.patch("/{key_id}", response_model=KeyOut)
async def change(central: TheCentral, key_id: Id, body: KeyChanges) -> KeyOut:
    """Set for how long it is the meter's, e.g. when the meter is swapped."""
    return _shown(await central.meter_keys.update(key_id, **body.given()))


@router.post("/{key_id}/confirm", response_model=KeyOut)
async def confirm(central: TheCentral, asking: Asking, key_id: Id) -> KeyOut:
    """You have compared it with the meter's own key."""
    return _shown(await central.meter_keys.confirm(key_id, str(asking)))


@router.post("/{key_id}/revoke", response_model=KeyOut)
async def revoke(central: TheCentral, key_id: Id) -> KeyOut:
    """It is not the meter's. What it has signed counts as signed by nobody."""
    return _shown(await central.meter_keys.revoke(key_id))


def _shown(key: MeterKey) -> KeyOut:
    return KeyOut(
        id=key.id,
        serial=key.serial,
        state=key.state,
        curve=key.key.curve,
        supported=key.key.supported,
        public_key=key.key.hex,
        fingerprint=key.key.fingerprint,
        valid_from=key.valid_from,
        valid_to=key.valid_to,
        note=key.note,
        source=key.source,
        created_at=key.created_at,
        confirmed_at=key.confirmed_at,
    )
