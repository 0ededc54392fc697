"""The year of `year` put into a system, month by month, as a treasurer would see it come.

Records go through the services; sessions and readings, which stations would bring by the hundred, are
written as their rows. Prices of sessions are made by the program itself.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, Final

from sqlalchemy import insert

from csms.app import Central
from csms.clock import ManualClock
from csms.ledger.issuing.issued import Run
from csms.ledger.pool import Key
from csms.ledger.statement import Issuer
from csms.ledger.terms import Terms
from csms.sites.model import System
from csms.store.outbox import Fact
from csms.store.tables.access import token as tokens
from csms.store.tables.ledger import ownership
from csms.store.tables.metering import reading
from csms.store.tables.sessions import session
from csms.store.tables.stations import station
from tools.weavers_yard import year
from tools.weavers_yard.year import Charge

TERMS: Final = Terms(
    issuer=Issuer(
        name="Weavers' Yard housing association",
        address=("Mill Lane 1", "0001 Oslo"),
        tax_id="NO 999 999 999 MVA",
        country="NO",
    ),
    first_month=f"{year.YEAR}-01",
    series="WY",
    credit_series="WYC",
    vat_percent=Decimal(25),
)
MEMBER_TARIFF: Final[dict[str, object]] = {
    "currency": year.CURRENCY,
    "elements": [{"price_components": [{"type": "ENERGY", "price": Decimal(1), "vat": 25, "step_size": 1}]}],
    "phaseyard": {
        "components": [
            {
                "type": "SPOT",
                "feed": year.FEED,
                "factor": 1,
                "markup_per_kwh": Decimal("0.049"),
                "fees": [{"name": "Energy tax", "per_kwh": Decimal("0.0713")}],
            },
            {"type": "MONTHLY_FEE", "name": "Meter and billing", "amount": 29, "vat": 25},
        ]
    },
}
GUEST_TARIFF: Final[dict[str, object]] = {
    "currency": year.CURRENCY,
    "elements": [
        {
            "price_components": [
                {"type": "ENERGY", "price": Decimal("3.40"), "vat": 25, "step_size": 1},
                {"type": "FLAT", "price": 5, "vat": 25, "step_size": 1},
            ]
        }
    ],
}
SUPPLY_LOSS_PERMILLE: Final = 38


class YearBooks:
    """`charges`: what is to happen; give fewer for a shorter story."""

    def __init__(self, central: Central, clock: ManualClock, charges: Sequence[Charge] | None = None) -> None:
        self.central = central
        self.clock = clock
        self.charges = year.charges() if charges is None else tuple(charges)
        self._put: set[int] = set()
        self._supply_wh = 50_000_000

    async def found(self) -> None:
        """The site, its members, bays, cards, tariffs and terms; the main meter's first reading."""
        central = self.central
        self._move(year.month_start(1))
        await central.sites.create_site(
            id=year.SITE,
            name="Weavers' Yard",
            time_zone=str(year.ZONE),
            currency=year.CURRENCY,
            system=System.TN_400,
        )
        await central.ledger.billing.set_terms(year.SITE, TERMS)
        names = {year.flat_id(n): f"Flat {n}" for n in range(1, year.FLATS + 1)}
        names |= {f"van-{n}": f"Bakery van {n}" for n in range(1, year.VANS + 1)}
        for key, name in names.items():
            await central.members.create(id=key, site_id=year.SITE, name=name)
        await self._bays()
        market = central.market
        await market.create_feed(id=year.FEED, name="Day ahead", currency=year.CURRENCY)
        made = await central.tariffs.create(
            id="members", site_id=year.SITE, name="Spot, passed on", document=MEMBER_TARIFF
        )
        await central.tariffs.assign(made.id, site_id=year.SITE)
        guests = await central.tariffs.create(
            id="guests", site_id=year.SITE, name="Visitors", document=GUEST_TARIFF
        )
        await central.tariffs.assign(guests.id, site_id=year.SITE, guests=True)
        await self._read_supply(1)

    async def live(self, month: int) -> None:
        """A month passes: prices come, people move, sessions end; it is noon of the next month's 3rd."""
        start, end = year.month_start(month), year.month_start(month + 1)
        self._move(start)
        ahead = timedelta(days=2)
        known = start if month == 1 else start + ahead
        await self.take_prices(year.price_csv(known, end + ahead), f"month {month}")
        for number, moved in year.MOVES.items():
            if start <= year.local(moved) < end:
                await self._move_in(number, moved)
        self._move(end + timedelta(days=2, hours=12))
        await self.hear(self.clock.now())
        await self._read_supply(month + 1)
        await self.add_pools(month)

    async def hear(self, until: datetime) -> int:
        """Every session whose data have arrived by then, priced; how many they are."""
        fresh = [
            (n, charge)
            for n, charge in enumerate(self.charges)
            if n not in self._put and charge.arrives <= until and charge.ended <= until
        ]
        self._put.update(n for n, _ in fresh)
        await put_charges(self.central, [charge for _, charge in fresh])
        await self.central.pricing.price_missing()
        return len(fresh)

    async def take_prices(self, raw: bytes, name: str) -> None:
        """A document of the market, and what follows for sessions that it corrects."""
        taken = await self.central.market.take_in(year.FEED, raw, name)
        document = taken.document
        body = {"start": document.start.isoformat(), "end": document.end.isoformat(), "corrects": True}
        if name.startswith("correct"):
            fact = Fact(topic="prices.stored", at=self.clock.now(), subject=year.FEED, body=body)
            await self.central.pricing.hear_prices(0, fact)

    async def add_pools(self, month: int) -> None:
        """The suppliers' invoices of a month."""
        first, end = _days(month)
        low, high = year.month_start(month), year.month_start(month + 1)
        drawn = sum(charge.drawn_wh for charge in self.charges if low <= charge.started < high)
        monthly = (
            ("grid", "Grid capacity", 185_000 + 1_237 * month, Key.PEAK),
            ("rent", "Charging system", 49_900, Key.EQUAL),
            ("losses", "Energy of standby and losses", 3_100 + drawn % 997, Key.KWH),
            ("spot", "Energy at spot price", 61_000 + drawn % 9_973, Key.ASSOCIATION),
        )
        for name, title, amount, key in monthly:
            await self._pool(f"{name}-{month:02}", title, amount, first, end, key)
        if month % 3 == 1:
            _, quarter_end = _days(month + 2)
            await self._pool(f"service-{month:02}", "Service", 120_001, first, quarter_end, Key.DAYS)

    async def add_late_invoice(self) -> None:
        """An invoice for October that comes when October has been billed: by days, without the kWh."""
        first, end = _days(10)
        await self._pool("late-10", "Late invoice", 53_000, first, end, Key.DAYS)

    async def issue(self, month: int) -> Run:
        """The month's statements, on the day that it is."""
        return await self.central.ledger.issuing.issue(year.SITE, f"{year.YEAR}-{month:02}")

    async def pay(self, month: int) -> int:
        """What members pay of a month's statements: most all of it, some half, some nothing."""
        paid = 0
        page = await self.central.ledger.issuing.statements(
            site_id=year.SITE, period=f"{year.YEAR}-{month:02}", limit=500
        )
        for document in page.items:
            number = document.sequence % 7
            amount = document.gross_minor if number else document.gross_minor // 2
            if number == 3 or amount <= 0 or document.kind != "statement":
                continue
            await self.central.ledger.payments.create(
                site_id=year.SITE,
                member_id=document.member_id,
                paid_on=self.clock.now().date(),
                amount_minor=amount,
                currency=year.CURRENCY,
                reference=f"bank {document.number}",
            )
            paid += 1
        return paid

    async def set_terms(self, **changes: Any) -> None:
        """Other terms from now on."""
        now = await self.central.ledger.billing.terms(year.SITE)
        await self.central.ledger.billing.set_terms(year.SITE, replace(now, **changes))

    async def _bays(self) -> None:
        """Stations, the bays that belong to flats and vans, and their cards."""
        flats = [(f"bay-{n:02}", year.flat_id(n), f"tok-{n:02}") for n in range(1, year.FLATS + 1)]
        vans = [(f"van-{n}", f"van-{n}", f"tok-van-{n}") for n in range(1, year.VANS + 1)]
        posts = [f"post-{n}" for n in range(1, year.POSTS + 1)]
        now, since = self.clock.now(), self.clock.now() - timedelta(days=365)
        places = [place for place, _, _ in (*flats, *vans)] + posts
        async with self.central.database.write() as connection:
            await connection.execute(
                insert(station),
                [
                    {"id": place, "site_id": year.SITE, "registration": "accepted", "created_at": now}
                    for place in places
                ],
            )
            await connection.execute(
                insert(tokens),
                [
                    {
                        "id": token,
                        "folded": token.replace("-", ""),
                        "text": token,
                        "kind": "rfid",
                        "label": f"Card of {member}",
                        "member_id": member,
                        "blocked": False,
                        "created_at": since,
                    }
                    for _, member, token in (*flats, *vans)
                ],
            )
            owned: list[dict[str, Any]] = [
                {"id": f"own-{place}", "station_id": place, "evse": 1, "token_id": None, "member_id": member}
                for place, member, _ in (*flats, *vans)
            ]
            owned += [
                {"id": f"own-{card}", "station_id": None, "evse": None, "token_id": card, "member_id": member}
                for _, member, card in (*flats, *vans)
            ]
            await connection.execute(
                insert(ownership),
                [{**each, "site_id": year.SITE, "from_at": None, "created_at": since} for each in owned],
            )

    async def _move_in(self, number: int, moved: date) -> None:
        """Another family takes over a flat's bay and card at local midnight."""
        at, old, new = year.local(moved), year.flat_id(number), f"{year.flat_id(number)}-new"
        self._move(at)
        owned = self.central.ownerships
        await self.central.members.create(id=new, site_id=year.SITE, name=f"Flat {number}, new family")
        for key in (f"own-bay-{number:02}", f"own-tok-{number:02}"):
            await owned.end(key, at)
        place, token = f"bay-{number:02}", f"tok-{number:02}"
        things: tuple[dict[str, Any], ...] = ({"station_id": place, "evse": 1}, {"token_id": token})
        for thing in things:
            await owned.create(
                id=f"own-{number:02}-{'bay' if 'evse' in thing else 'tok'}-new",
                site_id=year.SITE,
                member_id=new,
                from_at=at,
                **thing,
            )
        assert (await self.central.members.get(old)).active

    async def _read_supply(self, month: int) -> None:
        """The main meter's register at a month's first midnight: all that was drawn, and losses."""
        if month > 1:
            low, high = year.month_start(month - 1), year.month_start(month)
            drawn = sum(_within(charge, low, high) for charge in self.charges)
            self._supply_wh += drawn * 1000 // (1000 - SUPPLY_LOSS_PERMILLE)
        await self.central.ledger.pools.add_register(
            id=f"supply-{month:02}",
            site_id=year.SITE,
            serial="EV-1",
            at=year.month_start(month),
            register_wh=self._supply_wh,
        )

    async def _pool(self, key: str, name: str, amount: int, first: date, end: date, rule: Key) -> None:
        await self.central.ledger.pools.create(
            id=key,
            site_id=year.SITE,
            name=name,
            supplier="Fjord supply",
            amount_minor=amount,
            vat_minor=(amount + 2) // 4,
            vat_percent=Decimal(25),
            currency=year.CURRENCY,
            period_start=first,
            period_end=end,
            key=rule,
        )

    def _move(self, at: datetime) -> None:
        self.clock.advance((at - self.clock.now()).total_seconds())


async def put_charges(central: Central, charges: Iterable[Charge]) -> None:
    """The rows that these sessions would leave, without a price."""
    charges = list(charges)
    if not charges:
        return
    sessions = [
        {
            "station_id": c.station_id,
            "site_id": year.SITE,
            "evse": 1,
            "connector": 1,
            "transaction_id": f"{c.station_id} {c.started.isoformat()}",
            "state": "closed" if c.stop_lost else "ended",
            "token_id": c.token_id,
            "token_text": c.token_id or "",
            "member_id": c.member_id,
            "verdict": "accepted",
            "started_at": c.started,
            "ended_at": c.told[-1][0] if c.stop_lost else c.ended,
            "arrived_at": max(c.arrives, c.started) if c.arrives > c.ended else c.started,
            "register_start_wh": c.start_wh,
            "register_stop_wh": None if c.stop_lost else c.stop_wh,
            "energy_wh": c.heard_wh,
            "marks": {"no_stop_seen": True} if c.stop_lost else {},
        }
        for c in charges
    ]
    async with central.database.write() as connection:
        put = insert(session).returning(session.c.id)
        ids = [(await connection.execute(put.values(row))).scalar_one() for row in sessions]
        readings = [
            {
                "station_id": c.station_id,
                "evse": 1,
                "session_id": key,
                "at": at,
                "context": "clock",
                "register_wh": register,
            }
            for key, c in zip(ids, charges, strict=True)
            for at, register in c.told
        ]
        await connection.execute(insert(reading), readings)


def _within(charge: Charge, low: datetime, high: datetime) -> int:
    """What a session drew between two midnights, by the register there."""

    def drawn(at: datetime) -> int:
        if at <= charge.started:
            return 0
        if at >= charge.ended:
            return charge.drawn_wh
        before = [register for told, register in charge.told if told <= at]
        return (before[-1] if before else charge.start_wh) - charge.start_wh

    return drawn(high) - drawn(low)


def _days(month: int) -> tuple[date, date]:
    """First day of a month of the year, and of the next."""
    first, end = (year.month_start(m).astimezone(year.ZONE).date() for m in (month, month + 1))
    return first, end
