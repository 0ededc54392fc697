"""A small Weavers' Yard in rows: what tests of access and sessions stand on."""

from datetime import UTC, datetime

from sqlalchemy import insert, select

from csms.store.database import Database
from csms.store.outbox import Fact
from csms.store.tables.access import member, member_group, membership, token
from csms.store.tables.sites import circuit, site
from csms.store.tables.stations import station
from csms.store.tables.system import outbox

EARLY = datetime(2026, 1, 1, tzinfo=UTC)

SITE = "weavers-yard"
SUPPLY, COURTYARD, BAKERY = "supply", "courtyard", "bakery"
BAY_1, BAY_2, VAN_1 = "YARD-01", "YARD-02", "VAN-01"
ELSEWHERE = "MILL-01"
FLAT_12, FLAT_7, VAN = "flat-12", "flat-7", "van-a"
RESIDENTS = "residents"
CARD_12, CARD_7 = "04A1B2C3D4", "04FFEE1122"


async def build_yard(database: Database) -> None:
    """Two sites; a supply that feeds two boards; a bay or two on each; three members, two cards."""
    async with database.write() as connection:
        for site_id, name in ((SITE, "Weavers' Yard"), ("mill", "The Mill")):
            await connection.execute(
                insert(site).values(
                    id=site_id,
                    name=name,
                    time_zone="Europe/Brussels",
                    currency="EUR",
                    system="TN-400",
                    active=True,
                    created_at=EARLY,
                )
            )
        tree: dict[str, str | None] = {SUPPLY: None, COURTYARD: SUPPLY, BAKERY: SUPPLY}
        for circuit_id, fed_from in tree.items():
            await connection.execute(
                insert(circuit).values(
                    id=circuit_id,
                    site_id=SITE,
                    name=circuit_id,
                    fed_from=fed_from,
                    limit_l1_ma=63_000,
                    limit_l2_ma=63_000,
                    limit_l3_ma=63_000,
                )
            )
        places: dict[str, str | None] = {BAY_1: COURTYARD, BAY_2: COURTYARD, VAN_1: BAKERY, ELSEWHERE: None}
        for station_id, board in places.items():
            await connection.execute(
                insert(station).values(
                    id=station_id,
                    site_id="mill" if station_id == ELSEWHERE else SITE,
                    circuit_id=board,
                    registration="accepted",
                    max_current_ma=32_000,
                    created_at=EARLY,
                )
            )
        for member_id, kind in ((FLAT_12, "flat"), (FLAT_7, "flat"), (VAN, "vehicle")):
            await connection.execute(
                insert(member).values(
                    id=member_id,
                    site_id=SITE,
                    kind=kind,
                    name=member_id.replace("-", " "),
                    active=True,
                    created_at=EARLY,
                )
            )
        await connection.execute(
            insert(member_group).values(id=RESIDENTS, site_id=SITE, name="Residents", created_at=EARLY)
        )
        await connection.execute(insert(membership).values(group_id=RESIDENTS, member_id=FLAT_12))
        for text, member_id in ((CARD_12, FLAT_12), (CARD_7, FLAT_7)):
            await connection.execute(
                insert(token).values(
                    id=f"tok-{member_id}",
                    folded=text.lower(),
                    text=text,
                    kind="rfid",
                    member_id=member_id,
                    blocked=False,
                    created_at=EARLY,
                )
            )


async def facts(database: Database, topic: str = "") -> list[Fact]:
    """What was told to the rest of the system, in order, of topics that begin with `topic`."""
    query = select(outbox).where(outbox.c.topic.startswith(topic)).order_by(outbox.c.id)
    async with database.read() as connection:
        rows = (await connection.execute(query)).all()
    return [
        Fact(topic=row.topic, at=row.at, site_id=row.site_id, subject=row.subject, body=row.body)
        for row in rows
    ]
