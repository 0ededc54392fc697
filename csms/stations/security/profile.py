"""Who may come by which door. Pure. (OCPP 2.0.1 A05; security white paper for 1.6, section 2.)"""

from dataclasses import dataclass
from enum import IntEnum


class Profile(IntEnum):
    """Security profiles of OCPP, in rising order."""

    OPEN = 0
    KEY = 1
    KEY_OVER_TLS = 2
    CERTIFICATE = 3


class Way(IntEnum):
    """Doors: a plain socket, TLS, TLS with a certificate of the station."""

    PLAIN = 1
    TLS = 2
    MUTUAL = 3


@dataclass(frozen=True, slots=True)
class Standing:
    """What a station has reached. `in_use` None: nothing yet; `wanted`: an upgrade is under way."""

    in_use: Profile | None = None
    wanted: Profile | None = None


NEW = Standing()
"""Of a station that has reached nothing yet."""


@dataclass(frozen=True, slots=True)
class Entry:
    """`profile` by which a station came, `refusal` why it may not, "" when it may. `news`: it has come
    this high for the first time, which is to be kept."""

    profile: Profile
    refusal: str = ""
    news: bool = False


def profile_of(way: Way, *, has_key: bool) -> Profile:
    """The profile that a station uses by coming this way."""
    if way is Way.MUTUAL:
        return Profile.CERTIFICATE
    if way is Way.TLS:
        return Profile.KEY_OVER_TLS
    return Profile.KEY if has_key else Profile.OPEN


def enter(standing: Standing, way: Way, *, has_key: bool) -> Entry:
    """What to do with a station that comes this way.

    Who has reached a profile does not come by a lower one any more (A05.FR.09): a copy of its key would
    otherwise be enough for somebody else. TLS without a key is no profile. An operator can set the
    profile back by hand. What a station without any standing does is not held against it.
    """
    came = profile_of(way, has_key=has_key)
    if way is Way.TLS and not has_key:
        return Entry(came, "it comes over TLS but has no key; set one, or give it a certificate")
    in_use = standing.in_use
    if in_use is not None and came < in_use:
        return Entry(came, f"it has reached security profile {in_use:d} and comes by {came:d}")
    return Entry(came, news=came > (in_use if in_use is not None else Profile.KEY))
