"""Which profiles a station holds: what replaces what, and what a clearing takes away."""

from collections.abc import Iterable
from dataclasses import dataclass

from csms.stations.commands import ClearProfiles
from csms.stations.model import ChargingProfile, ProfilePurpose


@dataclass(frozen=True, slots=True)
class Held:
    """A profile at an EVSE; 0 is the station, or the default of each EVSE."""

    evse: int
    profile: ChargingProfile


def install(held: Iterable[Held], new: Held, *, later: bool) -> tuple[Held, ...]:
    """What is held after `new` was accepted. `later`: OCPP 2.x.

    The same id replaces. In 1.6 the same purpose and stack level at the same connector replaces as well;
    in 2.x a station refuses that (`duplicate_of`).
    """
    stay = [each for each in held if each.profile.id != new.profile.id]
    if not later:
        stay = [each for each in stay if _place(each) != _place(new)]
    return (*stay, new)


def duplicate_of(held: Iterable[Held], new: Held) -> Held | None:
    """The profile in the way of `new` in OCPP 2.x: same purpose, level and place, and valid at once with it.

    K01.FR.06, and FR.39 for those of transactions.
    """
    for each in held:
        if each.profile.id == new.profile.id or _place(each) != _place(new):
            continue
        same_transaction = each.profile.transaction_id == new.profile.transaction_id
        if new.profile.purpose is ProfilePurpose.TX and not same_transaction:
            continue
        if _overlap(each.profile, new.profile):
            return each
    return None


def phase_conflict_of(held: Iterable[Held], new: Held) -> Held | None:
    """The profile that binds to another line than `new` does, where one is enough for both.

    A station refuses that (`PhaseConflict`, OCPP 2.1 K01.FR.141): at the same EVSE, or of the station.
    """
    lines = _lines(new.profile)
    for each in held:
        apart = each.evse != new.evse and 0 not in (each.evse, new.evse)
        if each.profile.id == new.profile.id or apart:
            continue
        if lines and _lines(each.profile) and lines != _lines(each.profile):
            return each
    return None


def _lines(profile: ChargingProfile) -> set[int]:
    return {period.phase_to_use for period in profile.periods if period.phase_to_use is not None}


def clear(held: Iterable[Held], command: ClearProfiles) -> tuple[Held, ...]:
    """What is held after a clearing. With an id the other fields do not count (OCPP 1.6 errata 3.26)."""
    return tuple(each for each in held if not _is_meant(each, command))


def end_transaction(held: Iterable[Held], evse: int) -> tuple[Held, ...]:
    """What is held after the transaction of an EVSE has ended: its profiles end with it."""
    return tuple(each for each in held if each.evse != evse or each.profile.purpose is not ProfilePurpose.TX)


def _place(held: Held) -> tuple[int, int, ProfilePurpose]:
    return held.evse, held.profile.stack_level, held.profile.purpose


def _overlap(one: ChargingProfile, other: ChargingProfile) -> bool:
    def before(first: ChargingProfile, second: ChargingProfile) -> bool:
        ends, begins = first.valid_to, second.valid_from
        return ends is not None and begins is not None and ends <= begins

    return not before(one, other) and not before(other, one)


def _is_meant(held: Held, command: ClearProfiles) -> bool:
    profile = held.profile
    if profile.purpose is ProfilePurpose.EXTERNAL:
        return False
    if command.id is not None:
        return profile.id == command.id
    return (
        command.evse in (None, held.evse)
        and command.purpose in (None, profile.purpose)
        and command.stack_level in (None, profile.stack_level)
    )
