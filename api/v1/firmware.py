"""`/v1/firmware-images` and `/v1/firmware-campaigns`: what chargers run, and how new firmware is brought to
them."""

from datetime import time
from typing import Annotated

from fastapi import APIRouter, Header, Query, Request, Response
from pydantic import AfterValidator, Field

from api.auth import Asking, GuardedRoute, LargeBodyRoute
from api.deps import TheCentral
from api.fields import Id, Ident, Input, Instant, Output, Text
from api.pagination import After, Cursors, Limit, PageOut
from csms.firmware.campaign import MOST_AT_ONCE, Campaign, CampaignState
from csms.firmware.image import LONGEST_PEM, LONGEST_SIGNATURE, Image
from csms.firmware.update import Update, UpdateState
from csms.store.paging import Page

router = APIRouter(tags=["firmware"], route_class=GuardedRoute)
large = APIRouter(tags=["firmware"], route_class=LargeBodyRoute)
image_cursors = Cursors("firmware images")
campaign_cursors = Cursors("firmware campaigns")

Pem = Annotated[str, Field(max_length=LONGEST_PEM, pattern=r"^[\x09\x0a\x0d\x20-\x7e]*$")]
Maker = Annotated[str, Field(max_length=120, pattern=r"^[^\x00-\x1f\x7f]*$")]


def _time_of_day(text: str) -> str:
    time.fromisoformat(text)
    return text


Hour = Annotated[
    str,
    Field(pattern=r"^([01][0-9]|2[0-3]):[0-5][0-9]$", description="Time of the site's day, e.g. 01:30"),
    AfterValidator(_time_of_day),
]


class NewImage(Input):
    """`vendor`, `model`: what chargers report; left out: any. `version`: what one reports that runs it.
    `signature` (base64) and `signing_certificate` (PEM) are checked by chargers that can."""

    id: Ident | None = None
    version: Text
    vendor: Maker = ""
    model: Maker = ""
    signature: str = Field(default="", max_length=LONGEST_SIGNATURE, pattern=r"^[A-Za-z0-9+/=]*$")
    signing_certificate: Pem = ""


class ImageOut(Output):
    """`complete`: its file is there; `sha256` in hex."""

    id: str
    version: str
    vendor: str
    model: str
    signed: bool
    complete: bool
    sha256: str
    size_bytes: int
    created_at: Instant


class NewCampaign(Input):
    """`station_ids` left out: all of the site that the image fits. `canaries` go first and alone; then at
    most `at_once`. `most_failed`: the share (0 to 1) of failures at which it stops by itself."""

    id: Ident | None = None
    site_id: Ident
    image_id: Ident
    station_ids: list[Ident] = Field(default_factory=list, max_length=10_000)
    canaries: int = Field(default=2, ge=0, le=MOST_AT_ONCE)
    at_once: int = Field(default=5, ge=1, le=MOST_AT_ONCE)
    from_local: Hour = "00:00"
    to_local: Hour = "00:00"
    most_failed: float = Field(default=0.1, ge=0, lt=1)
    look_after: int = Field(default=5, ge=1, le=10_000)


class CampaignOut(Output):
    """A roll-out."""

    id: str
    site_id: str
    image_id: str
    canaries: int
    at_once: int
    from_local: str
    to_local: str
    most_failed: float
    look_after: int
    state: CampaignState
    created_at: Instant
    created_by: str


class UpdateOut(Output):
    """How far one charger is; `detail` says why it failed."""

    station_id: str
    state: UpdateState
    detail: str
    canary: bool
    changed_at: Instant


class CampaignWithUpdates(CampaignOut):
    """The roll-out and how far each charger is, in their order; `counts` by state."""

    counts: dict[str, int]
    updates: list[UpdateOut]


@router.get("/firmware-images", response_model=PageOut[ImageOut])
async def list_images(central: TheCentral, limit: Limit = 50, after: After = None) -> Page[Image]:
    """Images, by id."""
    page = await central.firmware.images.list(after=image_cursors.read(after), limit=limit)
    return image_cursors.write(page)


@router.post("/firmware-images", status_code=201, response_model=ImageOut)
async def create_image(central: TheCentral, body: NewImage, response: Response) -> Image:
    """Write an image down; its file follows by PUT."""
    image = await central.firmware.images.create(
        id=body.id,
        version=body.version,
        vendor=body.vendor,
        model=body.model,
        signature=body.signature,
        signing_certificate=body.signing_certificate,
    )
    response.headers["Location"] = f"/v1/firmware-images/{image.id}"
    return image


@router.get("/firmware-images/{image_id}", response_model=ImageOut)
async def get_image(central: TheCentral, image_id: Id) -> Image:
    """One image."""
    return await central.firmware.images.get(image_id)


@router.delete("/firmware-images/{image_id}", status_code=204)
async def delete_image(central: TheCentral, image_id: Id) -> None:
    """Remove an image that no campaign has used."""
    await central.firmware.images.delete(image_id)


@large.put("/firmware-images/{image_id}/file", response_model=ImageOut)
async def put_file(
    central: TheCentral,
    request: Request,
    image_id: Id,
    x_sha256: Annotated[str, Header(max_length=64, description="SHA-256 of the file, in hex")],
) -> Image:
    """The file itself, as the body. What does not have that checksum is not kept."""
    return await central.firmware.images.take(image_id, request.stream(), x_sha256)


@router.get("/firmware-campaigns", response_model=PageOut[CampaignOut])
async def list_campaigns(
    central: TheCentral,
    site: Annotated[Ident | None, Query()] = None,
    limit: Limit = 50,
    after: After = None,
) -> Page[CampaignOut]:
    """Campaigns of a site or of all, by id."""
    page = await central.firmware.campaigns.list(
        site_id=site, after=campaign_cursors.read(after), limit=limit
    )
    return campaign_cursors.write(Page(tuple(_out(each) for each in page.items), page.next))


@router.post("/firmware-campaigns", status_code=201)
async def create_campaign(
    central: TheCentral, body: NewCampaign, principal: Asking, response: Response
) -> CampaignOut:
    """A campaign that waits to be started."""
    campaign = await central.firmware.campaigns.create(
        id=body.id,
        site_id=body.site_id,
        image_id=body.image_id,
        station_ids=body.station_ids,
        canaries=body.canaries,
        at_once=body.at_once,
        from_local=time.fromisoformat(body.from_local),
        to_local=time.fromisoformat(body.to_local),
        most_failed=body.most_failed,
        look_after=body.look_after,
        by=str(principal),
    )
    response.headers["Location"] = f"/v1/firmware-campaigns/{campaign.id}"
    return _out(campaign)


@router.get("/firmware-campaigns/{campaign_id}")
async def get_campaign(central: TheCentral, campaign_id: Id) -> CampaignWithUpdates:
    """The campaign and how far each charger is."""
    campaign, updates = await central.firmware.campaigns.get(campaign_id)
    return _whole(campaign, updates)


@router.post("/firmware-campaigns/{campaign_id}/start")
async def start(central: TheCentral, campaign_id: Id) -> CampaignOut:
    """Begin, or go on after a pause or a stop."""
    return _out(await central.firmware.campaigns.start(campaign_id))


@router.post("/firmware-campaigns/{campaign_id}/pause")
async def pause(central: TheCentral, campaign_id: Id) -> CampaignOut:
    """Tell no further charger; updates under way go on."""
    return _out(await central.firmware.campaigns.pause(campaign_id))


@router.post("/firmware-campaigns/{campaign_id}/cancel")
async def cancel(central: TheCentral, campaign_id: Id) -> CampaignOut:
    """End it for good."""
    return _out(await central.firmware.campaigns.cancel(campaign_id))


def _fields(campaign: Campaign) -> dict[str, object]:
    told: dict[str, object] = {
        name: getattr(campaign, name) for name in CampaignOut.model_fields if hasattr(campaign, name)
    }
    hours = {name: f"{getattr(campaign, name):%H:%M}" for name in ("from_local", "to_local")}
    return told | hours


def _out(campaign: Campaign) -> CampaignOut:
    return CampaignOut.model_validate(_fields(campaign))


def _whole(campaign: Campaign, updates: tuple[Update, ...]) -> CampaignWithUpdates:
    counts = {state.value: sum(each.state is state for each in updates) for state in UpdateState}
    shown = [UpdateOut.model_validate(each) for each in updates]
    found = _fields(campaign) | {"counts": {k: n for k, n in counts.items() if n}, "updates": shown}
    return CampaignWithUpdates.model_validate(found)
