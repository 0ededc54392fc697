"""Reads a month of a site, and puts it together."""

import asyncio
import dataclasses
from collections import defaultdict
from collections.abc import Awaitable, Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from csms.access.ownerships.ownership import Ownership
from csms.access.ownerships.service import OwnershipsService
from csms.ledger import canonical
from csms.ledger.assembling import Assembled, Rows, assemble
from csms.ledger.billing.service import BillingService
from csms.ledger.charges import parts_by_account
from csms.ledger.fees import days_there, fees_of, has_month_lines, needs_peak, spaces_of
from csms.ledger.gathering import repository
from csms.ledger.inputs import Fee, MemberFacts, PoolFacts, RunInputs
from csms.ledger.owners import Owners
from csms.ledger.period import Month
from csms.ledger.pool import Key, Pool, of_month
from csms.ledger.pools.service import PoolsService
from csms.ledger.proof import Repriced
from csms.ledger.registers import SessionRow
from csms.ledger.repricing import Repricer
from csms.ledger.supply import SupplyEnergy, SupplyGap, supply_energy
from csms.money import Currency
from csms.sites.model import Site
from csms.store.database import Connection
from csms.tariffs.assignment import Occasion
from csms.tariffs.market.series import NO_MARKET, Market
from csms.tariffs.market.service import MarketService
from csms.tariffs.service import TariffsService
from csms.tariffs.stored import StoredTariff

Exact = Callable[[int], Awaitable[int | None]]
"""What a session costs without VAT by what is stored, to the microsecond; None: it has no price."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """`inputs` lack what only the books know: balances, corrections, numbers. `spaces`: place -> member.
    `everybody`: all members of the site, as one who was not there would be told of."""

    inputs: RunInputs
    assembled: Assembled
    supply: SupplyEnergy | None
    supply_problem: str
    spaces: Mapping[str, str]
    everybody: Mapping[str, MemberFacts]


class Gathering:
    """Reads in bulk, in the caller's transaction; decides nothing."""

    def __init__(
        self,
        *,
        billing: BillingService,
        pools: PoolsService,
        ownerships: OwnershipsService,
        tariffs: TariffsService,
        market: MarketService,
        exact: Exact,
    ) -> None:
        self.billing = billing
        self._pools = pools
        self._ownerships = ownerships
        self._tariffs = tariffs
        self._market = market
        self._exact = exact

    async def gather(
        self,
        connection: Connection,
        site: Site,
        month: Month,
        now: datetime,
        then: RunInputs | None = None,
    ) -> Gathered:
        """The month as it looks now. `then`: the inputs that it was issued by, whose terms still hold.

        Raises Conflict where the site has no terms.
        """
        terms, currency = await self.billing.terms_within(connection, site.id)
        terms = then.terms if then is not None else terms
        zone = ZoneInfo(site.time_zone)
        start, end = month.bounds(zone)
        people = await repository.members_of(connection, site.id)
        ownerships = await self._ownerships.of_site(connection, site.id)
        rows = await self._rows(connection, site.id, start, end)
        tariffs = await self._tariffs_of(rows.sessions)
        groups = await repository.groups_of(connection, site.id)
        by_groups = await self._monthly_tariffs(
            site.id, start, {row.id: groups.get(row.id) for row in people}
        )
        repricer = Repricer(
            tariffs=tariffs,
            market=await self._prices(tariffs.values(), rows.sessions),
            zone=zone,
            groups=groups,
            pauses=await self._pauses(connection, rows.sessions, tariffs),
        )
        pools = await self._pools.pools_of(connection, site.id, month.first, month.after.first)
        peak = any(pool.key is Key.PEAK for pool in pools) or needs_peak(by_groups.values())
        owners = Owners.of((row.id for row in people), ownerships)
        # A large month is seconds of work: in a thread, as stations are not to wait for it.
        assembled = await asyncio.to_thread(assemble, rows, month, zone, owners, repricer, now, peak=peak)
        made = await self._looked_at(assembled)
        supply, problem = await self._supply(connection, site.id, start, end)
        count, days, spaces = spaces_of(ownerships, month, zone)
        has_spaces = any(each.thing.station_id is not None for each in ownerships)
        everybody = {row.id: _facts(row) for row in people}
        facts = _members(people, made, count, days, has_spaces, month, end, then)
        inputs = RunInputs(
            site_id=site.id,
            site_name=site.name,
            time_zone=site.time_zone,
            currency=currency,
            period=str(month),
            issued_at=now,
            terms=terms,
            members=facts,
            parts=made.parts,
            pools=tuple(_pool(pool, month) for pool in pools),
            fees=tuple(_fees(facts, groups, by_groups, ownerships, made, month, zone, Currency(currency)))
            if terms.members_pay_sessions
            else (),
            supply_wh=None if supply is None else supply.energy_wh,
            supply_interpolated=supply is not None and supply.interpolated,
            between_wh=made.between_wh,
            peak_wh=made.peak_wh,
            peak_at=made.peak_at,
        )
        return Gathered(
            inputs=inputs,
            assembled=made,
            supply=supply,
            supply_problem=problem,
            spaces=spaces,
            everybody=everybody,
        )

    async def signature(self, connection: Connection, site: Site, month: Month) -> str:
        """A digest of what the month's charges depend on: it changes when anything came late."""
        start, end = month.bounds(ZoneInfo(site.time_zone))
        sessions = await repository.signature_rows(connection, site.id, start, end)
        pools = await self._pools.pools_of(connection, site.id, month.first, month.after.first)
        owned = await self._ownerships.of_site(connection, site.id, start, end)
        supply, problem = await self._supply(connection, site.id, start, end)
        told = {
            "sessions": sessions,
            "pools": [_plain(pool) for pool in pools],
            "owned": [
                [str(each.thing), each.member_id, _since(each.from_at, start), _until(each.to_at, end)]
                for each in owned
            ],
            "supply": [None if supply is None else supply.energy_wh, problem],
        }
        return canonical.digest(canonical.write(told))

    async def _looked_at(self, made: Assembled) -> Assembled:
        """With prices that differ worked out anew: registers are read by the second here, and a meter
        value of half a second can move a cent."""
        repriced = [
            each
            if each.booked_minor == each.again_minor
            else Repriced(each.session_id, each.booked_minor, await self._exact(each.session_id))
            for each in made.repriced
        ]
        return dataclasses.replace(made, repriced=tuple(repriced))

    async def _rows(self, connection: Connection, site_id: str, start: datetime, end: datetime) -> Rows:
        sessions = await repository.sessions_of(connection, site_id, start, end)
        before = await repository.last_before(connection, site_id, start)
        told = await repository.registers_of(connection, site_id, start, end)
        told |= await repository.registers_of_few(connection, [row.id for row in before])
        stopless = [
            row
            for row in (*before, *sessions)
            if row.ended is not None and not (row.stop_seen and row.register_stop_wh is not None)
        ]
        stations = await repository.stations_of(connection, site_id)
        return Rows(
            sessions=sessions,
            before=before,
            told=told,
            neighbours=await repository.neighbours_of(connection, stopless),
            stations={key: (name, ma * 230 * 3 / 1000) for key, (name, ma) in stations.items()},
            labels=await repository.labels_of(connection, site_id),
            signed=await repository.signed_of(connection, site_id, start, end),
        )

    async def _tariffs_of(self, sessions: Sequence[SessionRow]) -> dict[str, StoredTariff]:
        ids = sorted({row.tariff_id for row in sessions if row.tariff_id is not None})
        return {key: await self._tariffs.get(key) for key in ids}

    async def _monthly_tariffs(
        self, site_id: str, start: datetime, kinds: Iterable[frozenset[str]]
    ) -> dict[frozenset[str], StoredTariff]:
        """The tariff of everybody who is in such groups, where it charges by the month."""
        found: dict[frozenset[str], StoredTariff] = {}
        for groups in kinds:
            occasion = Occasion(start=start, site_id=site_id, station_id="", group_ids=groups)
            chosen = await self._tariffs.tariff_for(occasion)
            if chosen.tariff is not None and has_month_lines(chosen.tariff):
                found[groups] = chosen.tariff
        return found

    async def _prices(self, tariffs: Iterable[StoredTariff], sessions: Sequence[SessionRow]) -> Market:
        feeds = sorted({spot.feed_id for stored in tariffs for spot in stored.tariff.spots})
        if not feeds:
            return NO_MARKET
        first = min(row.started for row in sessions)
        last = max(row.ended or row.started for row in sessions)
        start, end = datetime.fromtimestamp(first, UTC), datetime.fromtimestamp(last + 1, UTC)
        return await self._market.market(feeds, start, end)

    async def _pauses(
        self, connection: Connection, sessions: Sequence[SessionRow], tariffs: Mapping[str, StoredTariff]
    ) -> Any:
        """Only of sessions whose tariff asks what the time was spent on."""
        timed = {
            key
            for key, stored in tariffs.items()
            if any(c.dimension.value in ("TIME", "PARKING_TIME") for c in stored.tariff.components)
        }
        ids = [row.id for row in sessions if row.tariff_id in timed]
        return await repository.pauses_of(connection, ids)

    async def _supply(
        self, connection: Connection, site_id: str, start: datetime, end: datetime
    ) -> tuple[SupplyEnergy | None, str]:
        try:
            return supply_energy(await self._pools.registers_of(connection, site_id), start, end), ""
        except SupplyGap as gap:
            return None, str(gap)


def _members(
    people: Iterable[Any],
    made: Assembled,
    count: Mapping[str, int],
    days: Mapping[str, int],
    has_spaces: bool,
    month: Month,
    end: datetime,
    then: RunInputs | None,
) -> tuple[MemberFacts, ...]:
    """Who gets a statement: who was there, who has a place, who charged. Without written places everybody
    who is there counts as one."""
    charged = {part.account for part in made.parts}
    before = {} if then is None else {member.member_id: member for member in then.members}
    found = []
    for row in people:
        there = row.active and row.created_at < end
        if not (there or row.id in charged or row.id in count or row.id in before):
            continue
        spaces, space_days = (int(there), month.days if there else 0)
        if has_spaces:
            spaces, space_days = count.get(row.id, 0), days.get(row.id, 0)
        elif then is not None:
            known = before.get(row.id)
            spaces, space_days = (known.spaces, known.space_days) if known else (0, 0)
        found.append(dataclasses.replace(_facts(row), spaces=spaces, space_days=space_days))
    return tuple(found)


def _facts(row: Any) -> MemberFacts:
    return MemberFacts(
        member_id=row.id,
        name=row.name,
        address=tuple(row.lines or ()),
        email=row.email,
        language=row.language or "",
    )


def _fees(
    members: Iterable[MemberFacts],
    groups: Mapping[str, frozenset[str]],
    by_groups: Mapping[frozenset[str], StoredTariff],
    ownerships: Iterable[Ownership],
    made: Assembled,
    month: Month,
    zone: ZoneInfo,
    currency: Currency,
) -> Iterable[Fee]:
    if not by_groups:
        return
    owned: defaultdict[str, list[Ownership]] = defaultdict(list)
    for each in ownerships:
        owned[each.member_id].append(each)
    parts = parts_by_account(made.parts)
    for member in members:
        key = member.member_id
        mine = groups.get(key, frozenset())
        stored = by_groups.get(mine)
        if stored is not None:
            there = days_there(owned.get(key, ()), month, zone)
            yield from fees_of(key, mine, stored, month, there, parts.get(key, ()), made.peak_wh, currency)


def _pool(pool: Pool, month: Month) -> PoolFacts:
    return PoolFacts(
        id=pool.id,
        name=pool.name,
        supplier=pool.supplier,
        key=pool.key,
        amount_minor=of_month(pool, pool.amount_minor, month),
        vat_minor=of_month(pool, pool.vat_minor, month),
        vat_percent=pool.vat_percent,
    )


def _since(at: datetime | None, start: datetime) -> datetime:
    return start if at is None else max(at, start)


def _until(at: datetime | None, end: datetime) -> datetime:
    return end if at is None else min(at, end)


def _plain(value: Any) -> dict[str, Any]:
    return {**dataclasses.asdict(value), "created_at": None}
