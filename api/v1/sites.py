"""`/v1/sites`: properties with one supply each."""

from fastapi import APIRouter, Response
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Ident, Input, Instant, Output, Text, absent
from api.pagination import After, Cursors, Limit, PageOut
from csms.sites.model import Fairness, Sharing, Site, System
from csms.store.paging import Page

router = APIRouter(prefix="/sites", tags=["sites"], route_class=GuardedRoute)
cursors = Cursors("sites")


class NewSite(Input):
    """`id`: made up when left out. `time_zone`: IANA. `currency`: ISO 4217."""

    id: Ident | None = None
    name: Text
    time_zone: Text = Field(examples=["Europe/Oslo"])
    currency: Text = Field(examples=["EUR"])
    system: System = Field(strict=False, description="Star with neutral, or 230 V without (IEC 60364-1)")


class SiteChange(Input):
    """What is left out stays. `active`: whether its chargers are given power. `strategy`: how the supply
    is shared; `fairness`: whether amperes or kilowatts are what is even."""

    name: Text = Field(default_factory=absent)
    time_zone: Text = Field(default_factory=absent)
    currency: Text = Field(default_factory=absent)
    system: System = Field(default_factory=absent, strict=False)
    strategy: Sharing = Field(default_factory=absent, strict=False)
    fairness: Fairness = Field(default_factory=absent, strict=False)
    active: bool = Field(default_factory=absent)


class SiteOut(Output):
    """A site."""

    id: str
    name: str
    time_zone: str
    currency: str
    system: System
    active: bool
    created_at: Instant
    strategy: Sharing
    fairness: Fairness


@router.get("", response_model=PageOut[SiteOut])
async def list_sites(central: TheCentral, limit: Limit = 50, after: After = None) -> Page[Site]:
    """All sites, by id."""
    return cursors.write(await central.sites.list_sites(after=cursors.read(after), limit=limit))


@router.post("", status_code=201, response_model=SiteOut)
async def create_site(central: TheCentral, body: NewSite, response: Response) -> Site:
    """A new site. It gives no power before it is made active."""
    site = await central.sites.create_site(
        id=body.id,
        name=body.name,
        time_zone=body.time_zone,
        currency=body.currency,
        system=body.system,
    )
    response.headers["Location"] = f"/v1/sites/{site.id}"
    return site


@router.get("/{site_id}", response_model=SiteOut)
async def get_site(central: TheCentral, site_id: Id) -> Site:
    """One site."""
    return await central.sites.get_site(site_id)


@router.patch("/{site_id}", response_model=SiteOut)
async def change_site(central: TheCentral, site_id: Id, body: SiteChange) -> Site:
    """Change what is given. A site is made active only if it is safe without us: all fallbacks and
    the worst base load have to fit every circuit on every line."""
    changes = body.given()
    active = changes.pop("active", None)
    site = await central.sites.update_site(site_id, **changes)
    if active is None or active is site.active:
        return site
    return await central.sites.set_active(site_id, active)
