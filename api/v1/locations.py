"""`/v1/sites/ID/location`: where a site is and who runs it, as partners are told."""

from typing import Annotated

from fastapi import APIRouter
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Input, Output
from csms.sites.location.location import SiteLocation

router = APIRouter(prefix="/sites", tags=["sites"], route_class=GuardedRoute)


class LocationIn(Input):
    """OCPI 2.2.1, CdrLocation. All connectors of a site are told alike."""

    country_code: Annotated[str, Field(max_length=2, examples=["BE"])]
    party_id: Annotated[str, Field(max_length=3, examples=["WEY"])]
    address: Annotated[str, Field(max_length=45)]
    city: Annotated[str, Field(max_length=45)]
    postal_code: Annotated[str, Field(max_length=10)] = ""
    country: Annotated[str, Field(max_length=3, examples=["BEL"])]
    latitude: Annotated[str, Field(max_length=10, examples=["51.04530"])]
    longitude: Annotated[str, Field(max_length=11, examples=["3.72500"])]
    connector_standard: Annotated[str, Field(max_length=30)] = "IEC_62196_T2"
    connector_format: Annotated[str, Field(max_length=6)] = "SOCKET"


class LocationOut(Output):
    """The same, as it is kept."""

    country_code: str
    party_id: str
    address: str
    city: str
    postal_code: str
    country: str
    latitude: str
    longitude: str
    connector_standard: str
    connector_format: str


@router.get("/{site_id}/location", response_model=LocationOut)
async def get(central: TheCentral, site_id: Id) -> SiteLocation:
    """Where the site is."""
    return await central.locations.get(site_id)


@router.put("/{site_id}/location", response_model=LocationOut)
async def put(central: TheCentral, site_id: Id, body: LocationIn) -> SiteLocation:
    """Say where the site is; charge detail records need it."""
    return await central.locations.put(site_id, SiteLocation(**body.model_dump()))
