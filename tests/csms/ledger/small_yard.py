"""Two flats, a bay each, a visitors' post and a fixed price: the smallest site that can be billed."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

from sqlalchemy import insert

from csms.app import Central
from csms.clock import ManualClock
from csms.ledger.pool import Key
from csms.ledger.statement import Issuer
from csms.ledger.terms import Terms
from csms.sites.model import System
from csms.store.tables.metering import reading
from csms.store.tables.sessions import session
from csms.store.tables.stations import station

SITE = "yard"
START = datetime(2025, 12, 31, 23, tzinfo=UTC)
TERMS = Terms(
    issuer=Issuer(name="Yard", tax_id="NO1", country="NO"),
    first_month="2026-01",
    series="Y",
    credit_series="YC",
    vat_percent=Decimal(25),
)
DOCUMENT: dict[str, Any] = {
    "currency": "NOK",
    "elements": [{"price_components": [{"type": "ENERGY", "price": 2, "vat": 25, "step_size": 1}]}],
}


class SmallYard:
    """`central` over an open database; the clock stands where the story is."""

    def __init__(self, central: Central, clock: ManualClock) -> None:
        self.central = central
        self.clock = clock
        self.ledger = central.ledger
        self._registers: dict[str, int] = {}

    async def found(self, terms: Terms | None = TERMS) -> None:
        """The records, at the beginning of January."""
        central = self.central
        self.at(START)
        await central.sites.create_site(
            id=SITE, name="Yard", time_zone="Europe/Oslo", currency="NOK", system=System.TN_400
        )
        if terms is not None:
            await self.ledger.billing.set_terms(SITE, terms)
        async with central.database.write() as connection:
            rows = [
                {"id": key, "site_id": SITE, "registration": "accepted", "created_at": START}
                for key in ("bay-a", "bay-b", "post")
            ]
            await connection.execute(insert(station), rows)
        for key in ("a", "b"):
            await central.members.create(id=key, site_id=SITE, name=f"Flat {key}")
            await central.tokens.create(id=f"tok-{key}", text=f"CARD-{key}", member_id=key)
            await central.ownerships.create(
                id=f"own-{key}", site_id=SITE, member_id=key, station_id=f"bay-{key}", evse=1
            )
        await central.tariffs.create(id="two", site_id=SITE, name="Two a kWh", document=DOCUMENT)
        await central.tariffs.assign("two", site_id=SITE)

    def at(self, instant: datetime) -> None:
        self.clock.advance((instant - self.clock.now()).total_seconds())

    async def charge(
        self,
        member: str | None,
        start: datetime,
        energy_wh: int,
        *,
        hours: float = 2,
        told: Sequence[tuple[datetime, int]] = (),
        known: bool = True,
    ) -> int:
        """A session that has ended, priced; `told` are readings as Wh since its start."""
        place = "post" if member is None else f"bay-{member}"
        register = self._registers.get(place, 1000)
        self._registers[place] = register + energy_wh
        row = {
            "station_id": place,
            "site_id": SITE,
            "evse": 1,
            "state": "ended",
            "token_id": None if member is None else f"tok-{member}",
            "member_id": member,
            "verdict": "accepted" if known else "unknown",
            "started_at": start,
            "ended_at": start + timedelta(hours=hours),
            "arrived_at": self.clock.now(),
            "register_start_wh": register,
            "register_stop_wh": register + energy_wh,
            "energy_wh": energy_wh,
            "marks": {},
        }
        async with self.central.database.write() as connection:
            made = await connection.execute(insert(session).values(row).returning(session.c.id))
            number = int(made.scalar_one())
            values = [
                {
                    "station_id": place,
                    "evse": 1,
                    "session_id": number,
                    "at": at,
                    "context": "clock",
                    "register_wh": register + wh,
                }
                for at, wh in told
            ]
            if values:
                await connection.execute(insert(reading), values)
        await self.central.pricing.price_missing()
        return number

    async def pool(self, key: str, amount_minor: int, rule: Key = Key.KWH, month: int = 1) -> None:
        await self.ledger.pools.create(
            id=key,
            site_id=SITE,
            name=key.title(),
            amount_minor=amount_minor,
            vat_minor=amount_minor // 4,
            vat_percent=Decimal(25),
            currency="NOK",
            period_start=date(2026, month, 1),
            period_end=date(2026, month + 1, 1),
            key=rule,
        )

    async def january(self) -> None:
        """Flat a 10 kWh, flat b 30 kWh, a visitor 10 kWh, an invoice over 10.01; it is February the 3rd."""
        await self.charge("a", datetime(2026, 1, 5, 18, tzinfo=UTC), 10_000)
        await self.charge("b", datetime(2026, 1, 6, 18, tzinfo=UTC), 30_000)
        await self.charge(None, datetime(2026, 1, 7, 10, tzinfo=UTC), 10_000)
        await self.pool("grid", 1001)
        self.at(datetime(2026, 2, 3, 11, tzinfo=UTC))
