"""`/v1/stations/{id}/security`: which profile a charger has reached, its certificates, a new key, a higher
profile; `/v1/certificates`: what the doors show."""

from typing import Annotated, Literal

from fastapi import APIRouter
from pydantic import Field

from api import errors
from api.auth import Asking, GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Input, Instant, Output
from csms.stations.security.profile import Profile
from csms.stations.security.repository import SecurityState

router = APIRouter(tags=["security"], route_class=GuardedRoute, responses=errors.described(504))

ProfileNumber = Annotated[int, Field(ge=0, le=3, description="Security profile of OCPP")]


class Upgrade(Input):
    """`profile`: the higher one to be reached."""

    profile: int = Field(ge=1, le=3)


class SignedOut(Output):
    """A certificate that we signed for the station; `serial_number` is hex."""

    use: str
    state: str
    common_name: str
    serial_number: str
    not_after: Instant
    signed_at: Instant
    detail: str


class SecurityOut(Output):
    """`in_use` null: none reached yet, it may come by any door. `step`: where the last change stands.

    `key_waits`: it was sent a new key and has not come by it yet.
    """

    station_id: str
    in_use: ProfileNumber | None
    wanted: ProfileNumber | None
    step: str
    detail: str
    changed_at: Instant | None
    key_waits: bool
    certificates: list[SignedOut]


class RotatedOut(Output):
    """`outcome` unknown: it has not answered; the old key and the new one are both right."""

    outcome: Literal["accepted", "unknown"]


class ShownOut(Output):
    """A certificate of the doors, or a root that they trust."""

    file: str
    common_name: str
    organization: str
    issuer: str
    serial_number: str
    not_before: Instant
    not_after: Instant


class DoorsOut(Output):
    """`addresses`: by security profile; a charger's identity follows. `root`: ours, in PEM."""

    addresses: dict[str, str]
    certificates: list[ShownOut]
    root: str


@router.get("/stations/{station_id}/security")
async def show(central: TheCentral, station_id: Id) -> SecurityOut:
    """Where the station stands."""
    return await _out(central, station_id, await central.security.upgrades.state(station_id))


@router.post("/stations/{station_id}/security/key")
async def rotate_key(central: TheCentral, station_id: Id, principal: Asking) -> RotatedOut:
    """Send a new random key. Nobody gets to see it; the old one ends when the station has come by the new."""
    outcome = await central.security.keys.rotate(station_id, by=str(principal))
    return RotatedOut(outcome="accepted" if outcome == "accepted" else "unknown")


@router.post("/stations/{station_id}/security/upgrade", status_code=202)
async def upgrade(central: TheCentral, station_id: Id, body: Upgrade) -> SecurityOut:
    """Lead it to a higher security profile; it goes on in the background, look at `step`. Until it has come
    by the new door both are open. Again after a failure: begins anew."""
    state = await central.security.upgrades.begin(station_id, Profile(body.profile))
    return await _out(central, station_id, state)


@router.delete("/stations/{station_id}/security/upgrade")
async def give_up(central: TheCentral, station_id: Id) -> SecurityOut:
    """Want no higher profile any more; what it has reached stays."""
    return await _out(central, station_id, await central.security.upgrades.give_up(station_id))


@router.post("/stations/{station_id}/security/set-back")
async def set_back(central: TheCentral, station_id: Id) -> SecurityOut:
    """Let it come by any door again, e.g. after the charger was exchanged. Only do so when you know why."""
    return await _out(central, station_id, await central.security.upgrades.set_back(station_id))


@router.get("/certificates")
async def doors(central: TheCentral) -> DoorsOut:
    """What the doors show, and our root, which chargers are to trust."""
    return _doors(central)


@router.post("/certificates/reload")
async def reload(central: TheCentral) -> DoorsOut:
    """Take the files in the folder `tls` anew, without a restart; sockets that stand keep theirs."""
    central.security.tls.reload()
    return _doors(central)


def _doors(central: TheCentral) -> DoorsOut:
    security = central.security
    root = security.tls.authority.root_pem
    shown = [
        ShownOut(
            file=file,
            common_name=each.common_name,
            organization=each.organization,
            issuer=each.issuer,
            serial_number=each.serial_number,
            not_before=each.not_before,
            not_after=each.not_after,
        )
        for file, each in security.tls.shown().items()
    ]
    addresses = {str(int(profile)): address for profile, address in security.addresses().items()}
    return DoorsOut(addresses=addresses, certificates=shown, root=root)


async def _out(central: TheCentral, station_id: str, state: SecurityState) -> SecurityOut:
    signed = await central.security.signing.certificates(station_id)
    return SecurityOut(
        station_id=station_id,
        in_use=state.standing.in_use,
        wanted=state.standing.wanted,
        step=state.step,
        detail=state.detail,
        changed_at=state.changed_at,
        key_waits=state.next_key is not None,
        certificates=[SignedOut.model_validate(each) for each in signed],
    )
