"""Which profiles a station takes, whatever the version."""

from tools.simulator.bay import Bay
from tools.simulator.options import Options
from tools.simulator.profiles import ALL_EVSES, Kind, Profile, ProfileStore, Purpose


def acceptable(options: Options, installed: ProfileStore, profile: Profile) -> bool:
    """What both versions ask of a profile and this station can do."""
    kind = profile.kind
    if profile.stack_level > options.max_stack_level or len(profile.periods) > options.max_periods:
        return False
    replaces = any(old.id == profile.id for old in installed)
    if len(installed) >= options.max_profiles and not replaces:
        return False
    if profile.purpose is Purpose.STATION_MAX and (profile.evse_id != ALL_EVSES or kind is Kind.RELATIVE):
        return False
    if (kind is Kind.RECURRING) != (profile.recurs is not None):
        return False
    return (kind is Kind.RELATIVE) == (profile.starts_at is None)


def fits_transaction(bay: Bay | None, profile: Profile) -> bool:
    """A TxProfile needs its running transaction."""
    if profile.purpose is not Purpose.TX:
        return True
    if bay is None or bay.session is None:
        return False
    return profile.transaction_id in (None, bay.session.transaction_id)
