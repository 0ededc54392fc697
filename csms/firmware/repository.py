"""The SQL of images, campaigns, updates and logs."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, time
from typing import Any

from sqlalchemy import Row, delete, func, insert, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.errors import Conflict, NotFound
from csms.firmware.campaign import Campaign, CampaignState
from csms.firmware.image import Image
from csms.firmware.update import RUNNING, Update, UpdateState
from csms.store.paging import Page, fetch_page
from csms.store.tables.firmware import firmware_campaign as campaigns
from csms.store.tables.firmware import firmware_image as images
from csms.store.tables.firmware import firmware_update as updates
from csms.store.tables.firmware import station_log as logs
from csms.store.tables.sites import site as sites
from csms.store.tables.stations import station as stations

_RUNNING = tuple(sorted(RUNNING))
_HEARD = tuple(sorted(RUNNING | {UpdateState.UNKNOWN}))


@dataclass(frozen=True, slots=True, kw_only=True)
class StationLog:
    """A file that a station was asked for. `state`: asked, refused, uploading, received or failed."""

    id: int = 0
    station_id: str
    kind: str
    token: str
    state: str
    detail: str = ""
    file_name: str = ""
    size_bytes: int = 0
    sha256: str = ""
    asked_at: datetime
    asked_by: str = ""
    received_at: datetime | None = None


async def insert_image(connection: AsyncConnection, image: Image) -> None:
    try:
        await connection.execute(insert(images).values(_fields(image)))
    except IntegrityError as error:
        raise Conflict(f"there is an image {image.id!r} already") from error


async def update_image(connection: AsyncConnection, image: Image) -> None:
    await connection.execute(update(images).where(images.c.id == image.id).values(_fields(image)))


async def delete_image(connection: AsyncConnection, image_id: str) -> None:
    """Raises Conflict while a campaign names it."""
    used = select(func.count()).where(campaigns.c.image_id == image_id)
    if (await connection.execute(used)).scalar_one():
        raise Conflict("a campaign has used this image; it stays as long as that is kept")
    await connection.execute(delete(images).where(images.c.id == image_id))


async def get_image(connection: AsyncConnection, image_id: str) -> Image:
    """Raises NotFound."""
    row = (await connection.execute(select(images).where(images.c.id == image_id))).one_or_none()
    if row is None:
        raise NotFound("firmware image", image_id)
    return _image(row)


async def image_by_token(connection: AsyncConnection, token: str) -> Image | None:
    row = (await connection.execute(select(images).where(images.c.token == token))).one_or_none()
    return None if row is None else _image(row)


async def list_images(connection: AsyncConnection, *, after: str | None, limit: int) -> Page[Image]:
    return await fetch_page(connection, select(images), images.c.id, _image, after=after, limit=limit)


async def insert_campaign(
    connection: AsyncConnection, campaign: Campaign, station_ids: Sequence[str], now: datetime
) -> None:
    """With an update, waiting, of each station in that order; the first are the canaries."""
    try:
        await connection.execute(insert(campaigns).values(_campaign_values(campaign)))
    except IntegrityError as error:
        raise Conflict(f"there is a campaign {campaign.id!r} already") from error
    rows = [
        {
            "campaign_id": campaign.id,
            "station_id": station_id,
            "position": position,
            "state": UpdateState.WAITING.value,
            "canary": position < campaign.canaries,
            "changed_at": now,
        }
        for position, station_id in enumerate(station_ids)
    ]
    await connection.execute(insert(updates), rows)


async def update_campaign(connection: AsyncConnection, campaign: Campaign) -> None:
    statement = update(campaigns).where(campaigns.c.id == campaign.id)
    await connection.execute(statement.values(_campaign_values(campaign)))


async def get_campaign(connection: AsyncConnection, campaign_id: str, *, lock: bool = False) -> Campaign:
    """Raises NotFound."""
    query = select(campaigns).where(campaigns.c.id == campaign_id)
    row = (await connection.execute(query.with_for_update() if lock else query)).one_or_none()
    if row is None:
        raise NotFound("campaign", campaign_id)
    return _campaign(row)


async def list_campaigns(
    connection: AsyncConnection, site_id: str | None, *, after: str | None, limit: int
) -> Page[Campaign]:
    query = select(campaigns)
    if site_id is not None:
        query = query.where(campaigns.c.site_id == site_id)
    return await fetch_page(connection, query, campaigns.c.id, _campaign, after=after, limit=limit)


async def running_campaigns(connection: AsyncConnection) -> tuple[Campaign, ...]:
    query = select(campaigns).where(campaigns.c.state == CampaignState.RUNNING.value)
    return tuple(_campaign(row) for row in await connection.execute(query.order_by(campaigns.c.id)))


async def updates_of(connection: AsyncConnection, campaign_id: str) -> tuple[Update, ...]:
    query = select(updates).where(updates.c.campaign_id == campaign_id).order_by(updates.c.position)
    return tuple(_update(row) for row in await connection.execute(query))


async def heard_updates(connection: AsyncConnection, station_id: str) -> tuple[Update, ...]:
    """Those of the station that a word of it may move, the newest first."""
    query = select(updates).where(updates.c.station_id == station_id, updates.c.state.in_(_HEARD))
    rows = await connection.execute(query.order_by(updates.c.request_id.desc()))
    return tuple(_update(row) for row in rows)


async def busy_elsewhere(connection: AsyncConnection, station_ids: Iterable[str]) -> tuple[str, ...]:
    """Stations that another campaign, not over, has not finished with."""
    live = (CampaignState.READY, CampaignState.RUNNING, CampaignState.PAUSED, CampaignState.STOPPED)
    query = (
        select(updates.c.station_id)
        .distinct()
        .join(campaigns, campaigns.c.id == updates.c.campaign_id)
        .where(
            updates.c.station_id.in_(sorted(station_ids)),
            campaigns.c.state.in_([state.value for state in live]),
            updates.c.state.in_([UpdateState.WAITING.value, *_RUNNING]),
        )
    )
    return tuple(sorted((await connection.execute(query)).scalars()))


async def keep_update(connection: AsyncConnection, changed: Update) -> None:
    values = {"state": changed.state.value, "detail": changed.detail[:255], "changed_at": changed.changed_at}
    await connection.execute(update(updates).where(updates.c.request_id == changed.request_id).values(values))


async def skip_waiting(connection: AsyncConnection, campaign_id: str, now: datetime) -> None:
    mine = (updates.c.campaign_id == campaign_id, updates.c.state == UpdateState.WAITING.value)
    values = {"state": UpdateState.SKIPPED.value, "detail": "cancelled", "changed_at": now}
    await connection.execute(update(updates).where(*mine).values(values))


async def zone_of(connection: AsyncConnection, site_id: str) -> str:
    """The site's time zone. Raises NotFound."""
    zone = (
        await connection.execute(select(sites.c.time_zone).where(sites.c.id == site_id))
    ).scalar_one_or_none()
    if zone is None:
        raise NotFound("site", site_id)
    return str(zone)


async def site_of(connection: AsyncConnection, station_id: str) -> str | None:
    query = select(stations.c.site_id).where(stations.c.id == station_id)
    found: str | None = (await connection.execute(query)).scalar_one_or_none()
    return found


async def insert_log(connection: AsyncConnection, log: StationLog) -> int:
    made = await connection.execute(insert(logs).values(_fields(log)).returning(logs.c.id))
    return int(made.scalar_one())


async def update_log(connection: AsyncConnection, log: StationLog) -> None:
    await connection.execute(update(logs).where(logs.c.id == log.id).values(_fields(log)))


async def get_log(connection: AsyncConnection, log_id: int) -> StationLog:
    """Raises NotFound."""
    row = (await connection.execute(select(logs).where(logs.c.id == log_id))).one_or_none()
    if row is None:
        raise NotFound("log", log_id)
    return _log(row)


async def log_by_token(connection: AsyncConnection, token: str) -> StationLog | None:
    row = (await connection.execute(select(logs).where(logs.c.token == token))).one_or_none()
    return None if row is None else _log(row)


async def list_logs(
    connection: AsyncConnection, station_id: str, *, after: str | None, limit: int
) -> Page[StationLog]:
    """The latest first."""
    query = select(logs).where(logs.c.station_id == station_id)
    return await fetch_page(connection, query, logs.c.id, _log, after=after, limit=limit, descending=True)


def _fields(made: Image | StationLog) -> dict[str, Any]:
    names = type(made).__dataclass_fields__
    values = {name: getattr(made, name) for name in names}
    if isinstance(made, StationLog):
        del values["id"]
    return values


def _image(row: Row[Any]) -> Image:
    return Image(**{name: getattr(row, name) for name in Image.__dataclass_fields__})


def _log(row: Row[Any]) -> StationLog:
    return StationLog(**{name: getattr(row, name) for name in StationLog.__dataclass_fields__})


def _campaign_values(campaign: Campaign) -> dict[str, Any]:
    values = {name: getattr(campaign, name) for name in Campaign.__dataclass_fields__}
    times = {name: f"{getattr(campaign, name):%H:%M}" for name in ("from_local", "to_local")}
    return values | times | {"state": campaign.state.value}


def _campaign(row: Row[Any]) -> Campaign:
    values = {name: getattr(row, name) for name in Campaign.__dataclass_fields__}
    times = {name: time.fromisoformat(values[name]) for name in ("from_local", "to_local")}
    return Campaign(**(values | times | {"state": CampaignState(row.state)}))


def _update(row: Row[Any]) -> Update:
    return Update(
        campaign_id=row.campaign_id,
        station_id=row.station_id,
        state=UpdateState(row.state),
        request_id=row.request_id,
        detail=row.detail,
        canary=row.canary,
        changed_at=row.changed_at,
    )
