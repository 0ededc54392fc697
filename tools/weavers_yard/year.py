"""A year of the Yard as its chargers would tell it: who charged when, by which register, at what price.

All of it is invented and follows from the seed. Every flat has a bay of its own with one charger, the vans
have theirs, and visitors use two posts that are open to everybody. What is odd about the year is listed in
`ODD`: somebody who prepares or checks bills can look there for what must come out.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from random import Random
from typing import Final
from zoneinfo import ZoneInfo

SITE: Final = "weavers-yard"
ZONE: Final = ZoneInfo("Europe/Oslo")
CURRENCY: Final = "NOK"
YEAR: Final = 2026
FEED: Final = "no1"
FLATS: Final = 48
DRIVING: Final = (2, 5, 8, 11, 19, 30, 37)
VANS: Final = 3
POSTS: Final = 2
QUARTER: Final = timedelta(minutes=15)

MOVES: Final[Mapping[int, date]] = {11: date(YEAR, 3, 15), 30: date(YEAR, 9, 20)}
"""Flat -> the local midnight at which another family takes over its bay and its card."""
SWAPPED: Final = ("bay-08", date(YEAR, 4, 12))
"""The charger's meter is changed: its register begins again at 0."""
OFFLINE: Final = ("bay-19", date(YEAR, 7, 5), datetime(YEAR, 8, 10, 9, tzinfo=UTC))
"""From that day of July on the charger cannot be heard; what it counted then arrives after the issue."""
CORRECTED: Final = date(YEAR, 4, 10)
"""The market corrects this day's prices after April has been billed."""
NEGATIVE: Final = 6
"""In this month nights are cheaper than free."""
STOPLESS: Final = ("bay-37", date(YEAR, 2, 9))
"""A session whose stop was lost: the next one's start register says what it drew."""
ODD: Final = (MOVES, SWAPPED, OFFLINE, CORRECTED, NEGATIVE, STOPLESS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """One session as it really was. `told`: (instant, register in Wh) on the quarters of an hour between.

    `drawn_wh` differs from what the session itself tells only where the stop was lost.
    """

    station_id: str
    member_id: str | None
    token_id: str | None
    started: datetime
    ended: datetime
    start_wh: int
    stop_wh: int
    told: tuple[tuple[datetime, int], ...]
    arrives: datetime
    stop_lost: bool = False

    @property
    def drawn_wh(self) -> int:
        return self.stop_wh - self.start_wh

    @property
    def heard_wh(self) -> int:
        """What the messages of the session come to."""
        if not self.stop_lost:
            return self.drawn_wh
        return (self.told[-1][1] if self.told else self.start_wh) - self.start_wh


def flat_id(number: int) -> str:
    return f"flat-{number:02}"


def local(day: date, hour: int = 0, minute: int = 0) -> datetime:
    """A local time of the Yard, UTC."""
    return datetime(day.year, day.month, day.day, hour, minute, tzinfo=ZONE).astimezone(UTC)


def month_start(month: int) -> datetime:
    """The first instant of a month of the year; 13 is the next January."""
    return local(date(YEAR + (month - 1) // 12, (month - 1) % 12 + 1, 1))


def owner_of(number: int, at: datetime) -> str:
    """The member behind a flat's bay and card at an instant."""
    moved = MOVES.get(number)
    return f"{flat_id(number)}-new" if moved is not None and at >= local(moved) else flat_id(number)


def charges() -> tuple[Charge, ...]:
    """All sessions of the year in order of their start."""
    random = Random(YEAR)
    registers: dict[str, int] = {}
    wishes = sorted(_wishes(random), key=lambda wish: (wish[3], wish[0]))
    return tuple(_charge(*wish, random, registers) for wish in wishes)


def price(start: datetime, *, corrected: bool) -> Decimal:
    """The market's price of the quarter of an hour from `start`, per MWh."""
    at = start.astimezone(ZONE)
    quarter = at.hour * 4 + at.minute // 15
    wave = 220 + 7 * abs(48 - quarter) + (start.timetuple().tm_yday * 37 + quarter * 11) % 90
    value = Decimal(wave) + Decimal(quarter % 4) / 4
    if at.month == NEGATIVE and at.hour < 6:
        value = Decimal(-300) + Decimal(quarter) / 2
    if corrected and at.date() == CORRECTED:
        value += Decimal("123.45")
    return value


def price_csv(start: datetime, end: datetime, *, corrected: bool = False) -> bytes:
    """A document of prices from `start` to before `end`."""
    lines = ["timestamp,price,unit"]
    at = start
    while at < end:
        lines.append(f"{at.isoformat()},{price(at, corrected=corrected)},{CURRENCY}/MWh")
        at += QUARTER
    return "\n".join(lines).encode()


_Wish = tuple[str, str | None, int | None, datetime, timedelta, int]


def _wishes(random: Random) -> Iterator[_Wish]:
    """(station, token, flat, start, how long, power in W)."""
    for month in range(1, 13):
        first = date(YEAR, month, 1)
        days = (month_start(month + 1) - month_start(month)).days
        for number in DRIVING:
            for day in sorted(random.sample(range(2, days - 2), 4)):
                start = local(first + timedelta(days=day), random.randrange(16, 22), random.randrange(60))
                lasts = timedelta(minutes=random.randrange(60, 300))
                yield (
                    f"bay-{number:02}",
                    f"tok-{number:02}",
                    number,
                    start,
                    lasts,
                    3600 * random.randint(1, 3),
                )
        for van in range(1, VANS + 1):
            for day in sorted(random.sample(range(1, days - 1), 4)):
                start = local(first + timedelta(days=day), 13, random.randrange(60))
                lasts = timedelta(minutes=random.randrange(120, 360))
                yield f"van-{van}", f"tok-van-{van}", None, start, lasts, 11_000
        for post in range(1, POSTS + 1):
            for day in sorted(random.sample(range(1, days - 1), 3)):
                start = local(first + timedelta(days=day), 10, random.randrange(60))
                yield f"post-{post}", None, None, start, timedelta(minutes=random.randrange(40, 180)), 7400
    for number, moved in MOVES.items():
        start = local(moved - timedelta(days=1), 21, 7)
        yield f"bay-{number:02}", f"tok-{number:02}", number, start, timedelta(hours=6, minutes=11), 7200
    start = local(date(YEAR, 1, 31), 21, 3)
    yield "van-1", "tok-van-1", None, start, timedelta(hours=5), 11_000
    yield "van-2", "tok-van-2", None, local(date(YEAR, NEGATIVE, 14), 1, 4), timedelta(hours=4), 11_000
    station, since, _ = OFFLINE
    yield station, "tok-19", 19, local(since, 18, 2), timedelta(hours=4), 7200
    station, on = STOPLESS
    yield station, "tok-37", 37, local(on, 12, 4), timedelta(hours=2), 7200


def _charge(
    station: str,
    token: str | None,
    flat: int | None,
    start: datetime,
    lasts: timedelta,
    power_w: int,
    random: Random,
    registers: dict[str, int],
) -> Charge:
    if station == SWAPPED[0] and start >= local(SWAPPED[1]) and f"{station} swapped" not in registers:
        registers[station] = registers[f"{station} swapped"] = 0
    register = begin = registers.get(station, 1_000_000 + random.randrange(4_000_000))
    end = start + lasts
    told = []
    at = start
    while True:
        upto = datetime.fromtimestamp((int(at.timestamp()) // 900 + 1) * 900, UTC)
        seconds = int((min(upto, end) - at).total_seconds())
        register += power_w * seconds // 3600
        if upto >= end:
            break
        told.append((upto, register))
        at = upto
    registers[station] = register
    stop_lost = (station, start.astimezone(ZONE).date()) == STOPLESS and start == local(STOPLESS[1], 12, 4)
    if stop_lost:
        told = told[:-2]
    member = owner_of(flat, start) if flat is not None else (token or "").removeprefix("tok-") or None
    arrives = end
    if station == OFFLINE[0] and local(OFFLINE[1]) <= start < month_start(8):
        arrives = OFFLINE[2]
    return Charge(
        station_id=station,
        member_id=member,
        token_id=token,
        started=start,
        ended=end,
        start_wh=begin,
        stop_wh=register,
        told=tuple(told),
        arrives=arrives,
        stop_lost=stop_lost,
    )
