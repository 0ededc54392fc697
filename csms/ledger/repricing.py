"""Prices of sessions out of the stored tariffs and market prices: for the proof, and for what is cut.

A session that lies in one month with one owner costs what it was priced at. One that is cut, or whose
energy had to be completed, is priced again whole and then shared out by `csms.tariffs.parts`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from csms.ledger.flat_price import FlatPrice, flat_price
from csms.ledger.inputs import Cost
from csms.ledger.registers import Measured, SessionRow
from csms.metering.edges import midnights
from csms.sessions.pauses import Pause
from csms.tariffs.bill import Priced
from csms.tariffs.component import Payer
from csms.tariffs.market.series import Market
from csms.tariffs.parts import split
from csms.tariffs.pricing import price
from csms.tariffs.session_cost import Interval, Reading, SessionFacts, session_curve
from csms.tariffs.stored import StoredTariff
from csms.tariffs.tariff import TaxIncluded


@dataclass(slots=True)
class Repricer:
    """`groups`: member -> the groups it is in. `pauses`: session -> its pauses."""

    tariffs: Mapping[str, StoredTariff]
    market: Market
    zone: ZoneInfo
    groups: Mapping[str, frozenset[str]] = field(default_factory=dict)
    pauses: Mapping[int, Sequence[Pause]] = field(default_factory=dict)
    _flat: dict[str, FlatPrice | None] = field(default_factory=dict)
    _rates: dict[str, frozenset[Decimal | None]] = field(default_factory=dict)

    def minor(self, row: SessionRow, measured: Measured) -> tuple[int, int | None] | None:
        """(without, with VAT) of the session in minor units, by what is stored; None: it has no price.

        Raises PricesMissing.
        """
        stored = self.tariffs.get(row.tariff_id or "")
        if stored is None:
            return None
        if row.tariff_id not in self._flat:
            spots = stored.tariff.spots
            series = self.market.get(spots[0].feed_id) if len(spots) == 1 else None
            self._flat[stored.id] = flat_price(stored.tariff, series)
        flat = self._flat[stored.id]
        if flat is not None:
            found = flat.minor(measured.points)
            if found is not None:
                return found
        priced = self.priced(row, measured)
        totals = priced.totals
        return totals.excl.minor, None if totals.incl is None else totals.incl.minor

    def priced(self, row: SessionRow, measured: Measured) -> Priced:
        """The session's bill. Raises PricesMissing, and KeyError when its tariff is not there."""
        stored = self.tariffs[row.tariff_id or ""]
        pauses = self.pauses.get(row.id, ())
        start, end = _instant(row.started), _instant(max(measured.end, row.started))
        cuts = {*midnights(start, end, self.zone)}
        for spot in stored.tariff.spots:
            series = self.market.get(spot.feed_id)
            cuts.update(() if series is None else series.edges(start, end))
        at_cuts = [(at, measured.drawn(int(at.timestamp()))[0]) for at in sorted(cuts)]
        facts = SessionFacts(
            start=start,
            end=end,
            registers=(
                *(Reading(_instant(at), wh) for at, wh in measured.points),
                *(Reading(at, wh) for at, wh in at_cuts if measured.points),
            ),
            idle=tuple(Interval(p.from_at, p.to_at) for p in pauses if not p.by_us),
            paused=tuple(Interval(p.from_at, p.to_at) for p in pauses if p.by_us),
        )
        payer = Payer(member_id=row.member_id, group_ids=self.groups.get(row.member_id or "", frozenset()))
        return price(stored.tariff, session_curve(facts, self.zone), self.market, payer)

    def costs(self, row: SessionRow, measured: Measured, cuts: Sequence[int]) -> list[tuple[Cost, ...]]:
        """What each part costs between `cuts`, instants within the session; one more than they are."""
        priced = self.priced(row, measured)
        known = priced.totals.incl is not None
        parts = [
            tuple(
                Cost(self.rate(row.tariff_id or "", group.vat_percent), group.net.minor, group.vat.minor)
                for group in part.groups
                if known or group.net.minor
            )
            for part in split(priced, [_instant(at) for at in cuts])
        ]
        return parts if measured.extra_wh or row.ended is None else _as_booked(parts, row)

    def whole(self, row: SessionRow) -> tuple[Cost, ...]:
        """What a session costs that is one account's: as it was priced. Its VAT rate is the tariff's only
        one; a tariff of several is asked again by the caller."""
        excl = row.cost_excl_minor or 0
        vat = 0 if row.cost_incl_minor is None else row.cost_incl_minor - excl
        return (Cost(self.only_rate(row.tariff_id or ""), excl, vat),)

    def only_rate(self, tariff_id: str) -> Decimal | None:
        """The rate of a tariff that names one, or none."""
        rates = self.rates(tariff_id)
        return self.rate(tariff_id, next(iter(rates), None))

    def rates(self, tariff_id: str) -> frozenset[Decimal | None]:
        """The VAT rates of a tariff's session prices."""
        if tariff_id not in self._rates:
            stored = self.tariffs.get(tariff_id)
            named = () if stored is None else stored.tariff.components
            self._rates[tariff_id] = frozenset(component.vat_percent for component in named)
        return self._rates[tariff_id]

    def rate(self, tariff_id: str, percent: Decimal | None) -> Decimal | None:
        """0 where the tariff says that no VAT applies; None where it says nothing."""
        if percent is not None:
            return percent
        stored = self.tariffs.get(tariff_id)
        if stored is None:
            return None
        tariff = stored.tariff
        told = tariff.states_vat or tariff.tax_included is TaxIncluded.NOT_APPLICABLE
        return Decimal(0) if told else None


def _as_booked(parts: list[tuple[Cost, ...]], row: SessionRow) -> list[tuple[Cost, ...]]:
    """The parts summing to what the session was priced at: instants are whole seconds here, and a cent may
    fall to the other side; it goes to the last part."""
    net = sum(cost.net_minor for part in parts for cost in part)
    vat = sum(cost.vat_minor for part in parts for cost in part)
    more = (row.cost_excl_minor or 0) - net
    booked_vat = 0 if row.cost_incl_minor is None else row.cost_incl_minor - (row.cost_excl_minor or 0)
    if not parts[-1] or not (more or booked_vat - vat) or row.cost_excl_minor is None:
        return parts
    last = parts[-1][-1]
    mended = replace(last, net_minor=last.net_minor + more, vat_minor=last.vat_minor + booked_vat - vat)
    return [*parts[:-1], (*parts[-1][:-1], mended)]


def _instant(second: int) -> datetime:
    return datetime.fromtimestamp(second, UTC)
