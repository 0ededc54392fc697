"""One charging profile over time: which period rules at an instant, and when that changes."""

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta, tzinfo
from itertools import pairwise

from csms.stations.model import ChargingProfile, ProfileKind, ProfilePeriod

DAY_S = 86_400
RECURRENCE_S = {ProfileKind.DAILY: DAY_S, ProfileKind.WEEKLY: 7 * DAY_S}
HOUR_S = 3600


def offset_s(
    profile: ChargingProfile, at: datetime, anchor: datetime | None, zone: tzinfo = UTC
) -> float | None:
    """Seconds since the start of the schedule (of its latest recurrence); None before it or without one.

    `anchor`: when the transaction began to draw, from which relative profiles count; None: there is none.
    `zone` serves profiles of local time: a day of theirs may have 23 or 25 hours.
    """
    match profile.kind:
        case ProfileKind.RELATIVE:
            start = anchor
        case ProfileKind.DYNAMIC:
            start = profile.updated_at or profile.start_at
            if start is None:
                return 0.0
        case _:
            start = profile.start_at
    if start is None or at < start:
        return None
    if profile.kind not in RECURRENCE_S:
        return (at - start).total_seconds()
    if profile.local_time:
        passed = at.astimezone(zone).replace(tzinfo=None) - start.astimezone(zone).replace(tzinfo=None)
    else:
        passed = at - start
    return passed.total_seconds() % RECURRENCE_S[profile.kind]


def is_valid(profile: ChargingProfile, at: datetime) -> bool:
    """Whether `at` lies in the profile's validity, which holds its beginning and not its end."""
    return (profile.valid_from is None or profile.valid_from <= at) and (
        profile.valid_to is None or at < profile.valid_to
    )


def period_at(
    profile: ChargingProfile, at: datetime, anchor: datetime | None, zone: tzinfo = UTC
) -> ProfilePeriod | None:
    """The period that rules at `at`; None when the profile says nothing about that instant."""
    offset = offset_s(profile, at, anchor, zone) if is_valid(profile, at) else None
    if offset is None or (profile.duration_s is not None and offset >= profile.duration_s):
        return None
    if profile.kind is ProfileKind.DYNAMIC:
        return profile.periods[0] if profile.periods else None
    begun = [period for period in profile.periods if period.start_s <= offset]
    return begun[-1] if begun else None


def changes(
    profile: ChargingProfile,
    start: datetime,
    end: datetime,
    anchor: datetime | None,
    zone: tzinfo = UTC,
) -> Iterator[datetime]:
    """Instants after `start` and before `end` at which another period may begin to rule, or none."""
    for at in (profile.valid_from, profile.valid_to, _beginning(profile, anchor)):
        if at is not None and start < at < end:
            yield at
    marks = sorted({float(period.start_s) for period in profile.periods} | _ends(profile))
    at = max(start, _beginning(profile, anchor) or start)
    while at < end:
        offset = offset_s(profile, at, anchor, zone)
        if offset is None:
            return
        ahead = [mark - offset for mark in marks if mark > offset]
        if not ahead:
            return
        following = at + timedelta(seconds=ahead[0])
        if profile.local_time:
            # Clocks are put forward and back at a whole hour; within one, offsets run evenly.
            rest_s = HOUR_S - at.timestamp() % HOUR_S
            following = min(following, at + timedelta(seconds=rest_s))
        at = following
        if at < end:
            yield at


def _beginning(profile: ChargingProfile, anchor: datetime | None) -> datetime | None:
    return anchor if profile.kind is ProfileKind.RELATIVE else profile.updated_at or profile.start_at


def _ends(profile: ChargingProfile) -> set[float]:
    ends = {float(RECURRENCE_S[profile.kind])} if profile.kind in RECURRENCE_S else set()
    return ends if profile.duration_s is None else ends | {float(profile.duration_s)}


def delayed(
    periods: Sequence[ProfilePeriod], delays_s: Sequence[int], duration_s: int | None = None
) -> tuple[ProfilePeriod, ...]:
    """`periods` each begun later by its own delay, as a station draws them (OCPP 2.1, K01.FR.97).

    The first begins at 0 all the same. One that would begin at or after the next one, or after the
    end, is left out.
    """
    starts = [0, *(period.start_s + delay for period, delay in zip(periods[1:], delays_s, strict=True))]
    ends = [*(later for _, later in pairwise(starts)), duration_s]
    return tuple(
        ProfilePeriod(
            start,
            period.limit,
            period.phases,
            period.phase_to_use,
            period.limit_l2,
            period.limit_l3,
            period.discharge_limit,
            period.setpoint,
        )
        for period, start, end in zip(periods, starts, ends, strict=True)
        if (end is None or start < end) and (duration_s is None or start < duration_s)
    )
