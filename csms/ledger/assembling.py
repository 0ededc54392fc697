"""A month's rows made into the inputs of its statements: parts of sessions by owner, priced and explained."""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from csms.ledger.chains import Link, chains
from csms.ledger.inputs import Cost, Part
from csms.ledger.owners import Owners
from csms.ledger.period import Month, midnight
from csms.ledger.proof import Chain, Repriced
from csms.ledger.registers import Measured, Neighbour, SessionRow, measured
from csms.ledger.repricing import Repricer
from csms.ledger.statement import DayEnergy, Flag
from csms.tariffs.market.series import PricesMissing


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """What was read for a month. `before`: the last session of each charger from before it, with its
    readings among `told`. `neighbours`: of sessions without a stop."""

    sessions: Sequence[SessionRow]
    before: Sequence[SessionRow]
    told: Mapping[int, Sequence[tuple[int, int]]]
    neighbours: Mapping[int, Sequence[Neighbour]] = field(default_factory=dict)
    stations: Mapping[str, tuple[str, float]] = field(default_factory=dict)
    labels: Mapping[str, str] = field(default_factory=dict)
    signed: Mapping[int, Flag] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Assembled:
    """`between_wh`: outside of all sessions. `peak_wh`: by account, in the hour from `peak_at`.
    `unpriced`: sessions without a price, with the reason."""

    parts: tuple[Part, ...]
    chains: tuple[Chain, ...]
    repriced: tuple[Repriced, ...]
    untiled: tuple[str, ...]
    unpriced: Mapping[int, str]
    between_wh: int
    peak_wh: Mapping[str, int]
    peak_at: datetime | None


def assemble(
    rows: Rows, month: Month, zone: ZoneInfo, owners: Owners, repricer: Repricer, now: datetime, *, peak: bool
) -> Assembled:
    """The month out of its rows. `peak`: whether its hour of most power is wanted."""
    start, end = (int(at.timestamp()) for at in month.bounds(zone))
    seconds = int(now.timestamp())
    average = _average_w(rows.sessions)
    links: list[Link] = []
    for row in (*rows.before, *rows.sessions):
        station = rows.stations.get(row.station_id)
        found = measured(
            row,
            rows.told.get(row.id, ()),
            station[1] if station else 22_000.0,
            rows.neighbours.get(row.id, ()),
            average.get((row.station_id, row.evse), 0),
            seconds,
        )
        links.append((row, found))
    made = _Assembly(rows, owners, repricer, start, end, _midnights(month, zone))
    for row, found in links[len(rows.before) :]:
        made.add(row, found)
    linked = chains(links, start, end)
    peak_at, by_account = made.peak() if peak else (None, {})
    return Assembled(
        parts=tuple(made.parts),
        chains=linked,
        repriced=tuple(made.repriced),
        untiled=tuple(made.untiled),
        unpriced=made.unpriced,
        between_wh=sum(chain.between_wh for chain in linked),
        peak_wh=by_account,
        peak_at=peak_at,
    )


def _average_w(sessions: Sequence[SessionRow]) -> Mapping[tuple[str, int], int]:
    """The average power of each charger's whole sessions."""
    drawn: defaultdict[tuple[str, int], list[int]] = defaultdict(lambda: [0, 0])
    for row in sessions:
        if row.ended is not None and row.stop_seen and row.energy_wh:
            sums = drawn[row.station_id, row.evse]
            sums[0] += row.energy_wh
            sums[1] += row.ended - row.started
    return {place: wh * 3600 // s for place, (wh, s) in drawn.items() if s}


def _midnights(month: Month, zone: ZoneInfo) -> tuple[list[int], list[date]]:
    days = [month.first + timedelta(days=n) for n in range(month.days + 1)]
    return [int(midnight(day, zone).timestamp()) for day in days], days


class _Assembly:
    def __init__(
        self,
        rows: Rows,
        owners: Owners,
        repricer: Repricer,
        start: int,
        end: int,
        midnights: tuple[list[int], list[date]],
    ) -> None:
        self._rows, self._owners, self._repricer = rows, owners, repricer
        self._start, self._end = start, end
        self._marks, self._days = midnights
        self.parts: list[Part] = []
        self.repriced: list[Repriced] = []
        self.untiled: list[str] = []
        self.unpriced: dict[int, str] = {}
        self._measured: list[tuple[SessionRow, Measured, int, int, str]] = []

    def add(self, row: SessionRow, found: Measured) -> None:
        """The parts of a session that lie in the month."""
        low, high = row.started, max(found.end, row.started)
        cuts = self._owners.cuts(row, low, high)
        cuts += [at for at in (self._start, self._end) if low < at < high]
        cuts = sorted(set(cuts))
        costs = self._costs(row, found, cuts)
        edges = [low, *cuts, high]
        drawn = [(0, False), *(found.drawn(at) for at in cuts), (found.energy_wh, False)]
        if sum(b[0] - a[0] for a, b in pairwise(drawn)) != found.energy_wh:
            self.untiled.append(f"the parts of session {row.id} do not add up to it")
        for i, (begin, finish) in enumerate(pairwise(edges)):
            inside = begin >= self._start and (finish <= self._end and begin < self._end)
            if inside:
                self._part(row, found, begin, finish, drawn[i], drawn[i + 1], costs[i], len(edges) > 2)

    def _costs(self, row: SessionRow, found: Measured, cuts: Sequence[int]) -> Sequence[tuple[Cost, ...]]:
        """Of every part; a session whose price is not known costs nothing yet, and is told of."""
        nothing: list[tuple[Cost, ...]] = [()] * (len(cuts) + 1)
        if row.tariff_id is None:
            if row.cost_excl_minor is None and row.ended is not None:
                self.unpriced[row.id] = "it has not been priced"
            return nothing
        try:
            again = None if found.extra_wh or row.ended is None else self._repricer.minor(row, found)
            if row.ended is not None and not found.extra_wh:
                self.repriced.append(
                    Repriced(row.id, row.cost_excl_minor, None if again is None else again[0])
                )
                if not cuts and len(self._repricer.rates(row.tariff_id)) <= 1:
                    return [self._repricer.whole(row)]
            return self._repricer.costs(row, found, cuts)
        except PricesMissing as error:
            self.unpriced[row.id] = f"a market price is missing: {error}"
            return nothing

    def _part(
        self,
        row: SessionRow,
        found: Measured,
        begin: int,
        finish: int,
        before: tuple[int, bool],
        after: tuple[int, bool],
        costs: tuple[Cost, ...],
        is_split: bool,
    ) -> None:
        flags = list(found.flags)
        if before[1] or after[1]:
            flags.append(Flag.INTERPOLATED)
        if is_split:
            flags.append(Flag.SPLIT)
        if row.id in self.unpriced:
            flags.append(Flag.PRICE_MISSING)
        if row.arrived >= self._end and row.ended is not None and row.ended < self._end:
            flags.append(Flag.LATE)
        if row.id in self._rows.signed:
            flags.append(self._rows.signed[row.id])
        account = self._owners.account(row, begin)
        station = self._rows.stations.get(row.station_id)
        is_last = finish >= found.end
        base = found.base_wh
        self.parts.append(
            Part(
                account=account,
                session_id=row.id,
                start=_instant(begin),
                stop=_instant(finish),
                station_id=row.station_id,
                station=(station[0] if station else "") or row.station_id,
                token=self._rows.labels.get(row.token_id or "", "") or row.token_text,
                register_start_wh=None if base is None else base + before[0],
                register_stop_wh=None if base is None else base + after[0],
                energy_wh=after[0] - before[0],
                tariff_id=row.tariff_id or "",
                tariff=row.tariff,
                costs=costs,
                days=self._by_day(found, begin, finish, before[0], after[0]),
                flags=tuple(flags),
                estimated_wh=found.extra_wh if is_last else 0,
                reason=found.reason if is_last else "",
            )
        )
        self._measured.append((row, found, begin, finish, account))

    def _by_day(
        self, found: Measured, begin: int, finish: int, before_wh: int, after_wh: int
    ) -> tuple[DayEnergy, ...]:
        place = bisect_right(self._marks, begin)
        if place >= len(self._marks) or finish <= self._marks[place]:
            return (DayEnergy(self._days[place - 1], after_wh - before_wh),)
        days, at_wh = [], before_wh
        while place < len(self._marks) and self._marks[place] < finish:
            upto_wh, _ = found.drawn(self._marks[place])
            days.append(DayEnergy(self._days[place - 1], upto_wh - at_wh))
            at_wh, place = upto_wh, place + 1
        days.append(DayEnergy(self._days[place - 1], after_wh - at_wh))
        return tuple(days)

    def peak(self) -> tuple[datetime | None, Mapping[str, int]]:
        """The hour of UTC in which all drew most, the earlier of two, and what each account drew in it."""
        hours: defaultdict[int, defaultdict[str, int]] = defaultdict(lambda: defaultdict(int))
        for _, found, begin, finish, account in self._measured:
            at, at_wh = begin, found.drawn(begin)[0]
            last_wh = found.energy_wh if finish >= found.end else found.drawn(finish)[0]
            while at < finish:
                upto = min(finish, (at // 3600 + 1) * 3600)
                upto_wh = last_wh if upto == finish else found.drawn(upto)[0]
                if upto_wh > at_wh:
                    hours[at // 3600][account] += upto_wh - at_wh
                at, at_wh = upto, upto_wh
        if not hours:
            return None, {}
        best = min(hours, key=lambda hour: (-sum(hours[hour].values()), hour))
        mine = {who: wh for who, wh in hours[best].items() if who}
        return _instant(best * 3600), dict(sorted(mine.items()))


def _instant(second: int) -> datetime:
    return datetime.fromtimestamp(second, UTC)
