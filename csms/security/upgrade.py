"""The way of a station to a higher security profile: a table of steps. Pure.

OCPP 2.0.1 A05 and the security white paper for 1.6, 2.5: first what the new profile needs (a root of
ours to know us by; a certificate of its own), then the switch, then it comes by the new door or,
when it cannot, by the old one again. Until then both are open.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from csms.errors import Conflict
from csms.stations.security.profile import Profile, Standing


class Step(StrEnum):
    """Where an upgrade stands. WAITING: told to come by the new door; FELL_BACK: came by the old one."""

    NONE = ""
    ROOT = "root"
    CERTIFICATE = "certificate"
    SWITCH = "switch"
    WAITING = "waiting"
    REACHED = "reached"
    FAILED = "failed"
    FELL_BACK = "fell_back"
    UNKNOWN = "unknown"


class Outcome(StrEnum):
    DONE = "done"
    REFUSED = "refused"
    SILENT = "silent"


UNDER_WAY = frozenset({Step.ROOT, Step.CERTIFICATE, Step.SWITCH, Step.WAITING, Step.UNKNOWN})
"""What a restart of ours, or a lost connection, may have cut off. It goes on when the station is back;
where that is not known, from the beginning: each step may be done twice."""

TRANSITIONS: Mapping[tuple[Step, Outcome], Step] = {
    (Step.ROOT, Outcome.DONE): Step.CERTIFICATE,
    (Step.ROOT, Outcome.REFUSED): Step.FAILED,
    (Step.ROOT, Outcome.SILENT): Step.UNKNOWN,
    (Step.CERTIFICATE, Outcome.DONE): Step.SWITCH,
    (Step.CERTIFICATE, Outcome.REFUSED): Step.FAILED,
    (Step.CERTIFICATE, Outcome.SILENT): Step.UNKNOWN,
    (Step.SWITCH, Outcome.DONE): Step.WAITING,
    (Step.SWITCH, Outcome.REFUSED): Step.FAILED,
    # It may have switched: if so, it is about to come by the new door.
    (Step.SWITCH, Outcome.SILENT): Step.WAITING,
}


def follow(step: Step, outcome: Outcome, wanted: Profile) -> Step:
    """The step after `outcome`; a certificate of its own is needed for profile 3 only."""
    following = TRANSITIONS[step, outcome]
    if following is Step.CERTIFICATE and wanted is not Profile.CERTIFICATE:
        return Step.SWITCH
    return following


def first(wanted: Profile) -> Step:
    """Profiles over TLS need a root in the station by which it knows us."""
    return Step.ROOT if wanted >= Profile.KEY_OVER_TLS else Step.SWITCH


@dataclass(frozen=True, slots=True, kw_only=True)
class Means:
    """What there is. `ways`: profiles that we have doors for."""

    has_key: bool
    connected: bool
    doors: frozenset[Profile]


def check(standing: Standing, wanted: Profile, means: Means) -> None:
    """Raises Conflict when the upgrade cannot begin; the text says what to do."""
    if standing.in_use is not None and wanted <= standing.in_use:
        raise Conflict(
            f"it has reached security profile {standing.in_use:d} already; only a higher one can follow"
        )
    if wanted not in means.doors:
        raise Conflict(f"there is no door for security profile {wanted:d}; see the settings of TLS ports")
    if wanted in (Profile.KEY, Profile.KEY_OVER_TLS) and not means.has_key:
        raise Conflict(f"security profile {wanted:d} needs a key; give the station one first")
    if not means.connected:
        raise Conflict("it is not connected; begin when it is")
