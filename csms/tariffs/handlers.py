"""Prices sessions: when they end, when something of theirs or a price comes late, when somebody asks."""

import logging
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from csms.access.groups.service import GroupsService
from csms.clock import Clock
from csms.cluster.relay import Relay
from csms.errors import Conflict, InvalidInput, NotFound
from csms.metering.cutting import EnergyPiece, cut_energy
from csms.metering.edges import midnights
from csms.money import Currency, Money
from csms.sessions.service import SessionsService
from csms.sessions.session import Cost, Session, SessionFilter
from csms.sites.service import SitesService
from csms.store.database import Database
from csms.store.outbox import Fact, put
from csms.store.paging import every
from csms.tariffs.assignment import Occasion
from csms.tariffs.bill import Priced
from csms.tariffs.component import Payer
from csms.tariffs.market.series import PricesMissing
from csms.tariffs.market.service import STORED, MarketService
from csms.tariffs.recorded import (
    Bill,
    cost_of,
    facts_of,
    is_refusal,
    no_cost,
    price_documents,
    with_earlier,
)
from csms.tariffs.service import TariffsService
from csms.tariffs.session_cost import session_cost
from csms.tariffs.stored import StoredTariff

log = logging.getLogger(__name__)

FOLLOWED = ("session.ended", "session.corrected")
LONGEST = timedelta(days=45)
"""How long before its prices a session may have begun to be looked for."""


class SessionPricing:
    """The same inputs give the same price, however often they are priced.

    A session is priced by the tariff that was valid at its start, and keeps it when readings
    come late. Its member's groups are those of the moment when it is first priced: who was in
    a group when is not kept. One that follows a market has no price until all its prices are there; a
    corrected price document prices it again, and what it cost before stays with it (`earlier`).
    """

    def __init__(
        self,
        database: Database,
        clock: Clock,
        *,
        sites: SitesService,
        groups: GroupsService,
        sessions: SessionsService,
        tariffs: TariffsService,
        market: MarketService | None = None,
    ) -> None:
        self._database = database
        self._clock = clock
        self._sites = sites
        self._groups = groups
        self._sessions = sessions
        self._tariffs = tariffs
        self._market = market or MarketService(database, clock)

    def follow(self, relay: Relay) -> None:
        """Price what ends from now on."""
        for topic in FOLLOWED:
            relay.follow(topic, self.hear)
        relay.follow(STORED, self.hear_prices)

    async def hear(self, _row: int, fact: Fact) -> None:
        """A session ended, or changed after its end. One without a price is told of, with the reason."""
        session = await self._sessions.get(int(fact.subject))
        if session.open:
            return
        bill = await self._price(session, keep_tariff=True)
        if bill is not None:
            async with self._database.write() as connection:
                await put(connection, self._unpriced(session, bill.reason))

    async def hear_prices(self, _row: int, fact: Fact) -> None:
        """A document of prices came: price what has waited for it, and again what it corrects."""
        start, end = (datetime.fromisoformat(str(fact.body[name])) for name in ("start", "end"))
        concerned = [*await self._ended(start, end, priced=False)]
        if fact.body.get("corrects"):
            priced = await self._ended(start, end, priced=True)
            concerned += [each for each in priced if fact.subject in price_documents(each.cost_lines)]
        for session in concerned:
            try:
                await self._price(session, keep_tariff=True)
            except Exception:
                log.exception("session %s could not be priced by new prices", session.id)

    async def _ended(self, start: datetime, end: datetime, *, priced: bool) -> tuple[Session, ...]:
        """Sessions that are over and lie in that time, at least in part."""
        wanted = SessionFilter(open=False, priced=priced, from_at=start - LONGEST, to_at=end)
        found = await every(self._sessions.list, wanted)
        return tuple(session for session in found if (session.ended_at or session.started_at) >= start)

    async def price_missing(self) -> int:
        """At start-up: price every session that ended without a price; how many have one now.

        Those that still have none are not told of again.
        """
        priced = 0
        for session in await every(self._sessions.list, SessionFilter(open=False, priced=False)):
            try:
                bill = await self._price(session, keep_tariff=True)
            except Exception:
                # One that cannot be read must not keep the others from their price.
                log.exception("session %s could not be priced", session.id)
                continue
            priced += bill is None
            if bill is not None:
                log.info("session %s has no price: %s", session.id, bill.reason)
        return priced

    async def price_again(self, session_id: int) -> Session:
        """Price an ended session by the tariff that is assigned now for its start; the session after it.

        Raises NotFound, and Conflict when it still runs or cannot be priced, with the reason.
        """
        session = await self._sessions.get(session_id)
        if session.open:
            raise Conflict(f"session {session_id} still runs; it is priced when it ends")
        bill = await self._price(session, keep_tariff=False)
        if bill is not None:
            raise Conflict(f"session {session_id} has no price: {bill.reason}")
        return await self._sessions.get(session_id)

    async def estimate(self, session_id: int, now: datetime) -> Bill:
        """What a session that runs costs if it ended `now`; one that is over, what it costs.

        Nothing is written. Raises NotFound.
        """
        session = await self._sessions.get(session_id)
        return await self._bill(session, session.ended_at or now, keep_tariff=True)

    async def _price(self, session: Session, *, keep_tariff: bool) -> Bill | None:
        """Write the session's cost. A bill comes back only when there is none."""
        if session.site_id is not None and is_refusal(session):
            site = await self._sites.get_site(session.site_id)
            await self._write(session, no_cost(site.currency), "")
            return None
        until = session.ended_at or session.started_at
        bill = await self._bill(session, until, keep_tariff=keep_tariff)
        cost = cost_of(bill)
        if cost is None or bill.tariff is None:
            return bill
        await self._write(session, with_earlier(cost, session), bill.tariff.name)
        return None

    async def _bill(self, session: Session, until: datetime, *, keep_tariff: bool) -> Bill:
        if session.site_id is None:
            return Bill(tariff=None, priced=None, reason="its station is on no site")
        keeps = keep_tariff and session.tariff_id is not None
        group_ids = _kept_groups(session) if keeps else None
        if group_ids is None:
            groups = () if session.member_id is None else await self._groups.groups_of(session.member_id)
            group_ids = frozenset(group.id for group in groups)
        if keeps and session.tariff_id is not None:
            tariff = await self._tariffs.get(session.tariff_id)
            reason = _reason(session)
        else:
            chosen = await self._tariffs.tariff_for(
                Occasion(
                    start=session.started_at,
                    site_id=session.site_id,
                    station_id=session.station_id,
                    group_ids=group_ids,
                    guest=session.member_id is None,
                )
            )
            if chosen.tariff is None:
                return Bill(tariff=None, priced=None, reason=chosen.reason)
            tariff, reason = chosen.tariff, chosen.reason
        payer = Payer(member_id=session.member_id, group_ids=group_ids)
        try:
            priced, pieces = await self._priced(session, until, tariff, payer)
        except PricesMissing as missing:
            return Bill(tariff=tariff, priced=None, reason=missing.problem)
        except (InvalidInput, NotFound) as error:
            log.exception("session %s cannot be priced", session.id)
            return Bill(tariff=tariff, priced=None, reason=f"it cannot be priced: {error}")
        return Bill(tariff=tariff, priced=priced, reason=reason, group_ids=group_ids, pieces=pieces)

    async def _priced(
        self, session: Session, until: datetime, tariff: StoredTariff, payer: Payer
    ) -> tuple[Priced, tuple[EnergyPiece, ...]]:
        """The bill, and the energy cut at midnights and where the market's price may switch."""
        site = await self._sites.get_site(str(session.site_id))
        if tariff.tariff.currency.code != site.currency:
            raise InvalidInput(
                "currency",
                f"tariff {tariff.name} is in {tariff.tariff.currency}, the site in {site.currency}",
            )
        zone = ZoneInfo(site.time_zone)
        curve = await self._sessions.curve(session.id)
        pauses = await self._sessions.pauses(session.id)
        start, until = session.started_at, max(until, session.started_at)
        feeds = [spot.feed_id for spot in tariff.tariff.spots]
        market = await self._market.market(feeds, start, until)
        cuts = {*midnights(start, until, zone)}
        cuts.update(edge for series in market.values() for edge in series.edges(start, until))
        pieces = cut_energy(curve, start, until, cuts)
        facts = facts_of(session, curve, pauses, until, pieces)
        return session_cost(tariff.tariff, facts, zone, market, payer), pieces

    async def _write(self, session: Session, cost: Cost, tariff: str) -> None:
        currency = Currency(cost.currency)
        body = {
            **_about(session),
            "tariff": tariff,
            "energy_wh": session.energy_wh,
            "currency": cost.currency,
            "cost_excl": Money(cost.excl_minor, currency).text(),
            "cost_incl": None if cost.incl_minor is None else Money(cost.incl_minor, currency).text(),
        }
        await self._sessions.set_cost(session.id, cost, self._fact("session.priced", session, body))

    def _unpriced(self, session: Session, reason: str) -> Fact:
        return self._fact("session.unpriced", session, {**_about(session), "reason": reason})

    def _fact(self, topic: str, session: Session, body: dict[str, object]) -> Fact:
        return Fact(
            topic=topic,
            at=self._clock.now(),
            site_id=session.site_id,
            subject=str(session.id),
            body=body,
        )


def _about(session: Session) -> dict[str, object]:
    return {
        "session": session.id,
        "station": session.station_id,
        "evse": session.evse,
        "member": session.member_id,
    }


def _kept_groups(session: Session) -> frozenset[str] | None:
    """The member's groups when the session was priced first; None when that is not kept."""
    kept = session.cost_lines.get("groups") if isinstance(session.cost_lines, dict) else None
    return None if kept is None else frozenset(kept)


def _reason(session: Session) -> str:
    """Why the session has the tariff that it has."""
    kept = session.cost_lines.get("reason") if isinstance(session.cost_lines, dict) else None
    return str(kept or "the tariff that it was priced by before")
