"""What follows from what a station tells of itself: is it there, in which state, since when.

Registration belongs to the station and not to its socket, so that an accepted station that
reconnects without a boot is served at once. Sockets are counted by `epoch`: only the end of the
newest one means that the station is lost.
"""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from enum import StrEnum

from csms.stations.commands import Trigger, TriggerKind
from csms.stations.encoding import is_secret, storable
from csms.stations.events import StatusReported
from csms.stations.model import EvseStatus, Registration, VariableValue
from csms.stations.questions import Boot
from csms.stations.record import Evse, Station, serial_key

PENDING_INTERVAL_S = 300
"""How long a station that waits for its place waits before it boots again."""
REJECTED_INTERVAL_S = 3600
"""How long a station that we do not want waits before it boots again."""
LOOP_S = 600.0
"""Boots within this time are counted together."""
NORMAL_BOOTS = 5
"""So many of them are normal: an installer at work, an outage of the supply. More are a loop."""
MOST_DOUBLINGS = 10
LOOP_INTERVAL_S = 3600
"""The longest interval that a loop of boots is told."""
SPREAD = 0.1
"""Share by which intervals are drawn apart, so that stations that came together do not stay so."""
SEEN_EVERY = timedelta(seconds=60)
"""A sign of life is written down at most so often."""
LONGEST_TEXT = 255
LONGEST_ERROR = 50
HIGHEST_NUMBER = 999
OLDEST_CLOCK = datetime(2020, 1, 1, tzinfo=UTC)
"""A station's time before this is a clock that was never set."""

_IN_USE = frozenset(
    {
        EvseStatus.PREPARING,
        EvseStatus.OCCUPIED,
        EvseStatus.CHARGING,
        EvseStatus.SUSPENDED_EV,
        EvseStatus.SUSPENDED_EVSE,
        EvseStatus.FINISHING,
    }
)


def spread(interval_s: float, draw: float) -> int:
    """`interval_s` moved by up to 10 % either way; `draw` is random, from 0 up to 1."""
    return max(1, round(interval_s * (1 - SPREAD + 2 * SPREAD * draw)))


def boot_interval(registration: Registration, *, heartbeat_s: int, draw: float, recent: int = 0) -> int:
    """Seconds for the answer to a boot: heartbeat when accepted, else the wait before the next boot.

    `recent`: how many boots there were lately, this one included. Beyond what is normal each doubles it.
    """
    plain_s = _plain_interval(registration, heartbeat_s, draw)
    doublings = min(max(0, recent - NORMAL_BOOTS), MOST_DOUBLINGS)
    return plain_s if not doublings else max(plain_s, min(plain_s * 2**doublings, LOOP_INTERVAL_S))


def _plain_interval(registration: Registration, heartbeat_s: int, draw: float) -> int:
    match registration:
        case Registration.ACCEPTED:
            return spread(heartbeat_s, draw)
        case Registration.PENDING:
            return spread(PENDING_INTERVAL_S, draw)
        case Registration.REJECTED:
            return spread(REJECTED_INTERVAL_S, draw)


def registration_at_boot(kept: Registration | None, *, accept_unknown: bool) -> Registration:
    """What a booting station is told; `kept` None: we do not know it."""
    if kept is not None:
        return kept
    return Registration.PENDING if accept_unknown else Registration.REJECTED


def place_of(serial: str, places: tuple[Station, ...]) -> Station | None:
    """The place that a charger with `serial` joins, of those where that serial is expected.

    Only one that is free: nobody has ever come there. And only one without a key, since a charger that
    comes by another identity has shown none. None when that is not exactly one.
    """
    free = [place for place in places if place.booted_at is None and not place.has_key]
    return free[0] if serial_key(serial) and len(free) == 1 else None


def is_another(station: Station, serial: str) -> bool:
    """Whether somebody else than expected comes to a place for the first time.

    Its lines and fuse were planned for another charger, so a person decides. A station that tells no
    serial is taken for the right one: its identity is.
    """
    expected, told = serial_key(station.expected_serial), serial_key(serial)
    return station.booted_at is None and bool(expected) and bool(told) and expected != told


def clean(text: str, longest: int = LONGEST_TEXT) -> str:
    """A station's own text made fit to keep: no control characters, blanks at the ends or overlength.

    Stations pad texts with NUL, which a PostgreSQL text cannot hold. A boot is never refused
    for it.
    """
    kept = "".join(char if char.isprintable() else " " for char in text)
    return " ".join(kept.split())[:longest].rstrip()


def clean_boot(boot: Boot) -> Boot:
    """`boot` with the texts that are kept cleaned."""
    return replace(
        boot,
        vendor=clean(boot.vendor),
        model=clean(boot.model),
        serial=clean(boot.serial),
        firmware=clean(boot.firmware),
        reason=clean(boot.reason),
    )


def clean_variables(values: tuple[VariableValue, ...]) -> tuple[VariableValue, ...]:
    """`values` fit to keep: storable, paths that a database can hold, and no secrets.

    A path that is too long to keep is left out, since a cut one would name another variable.
    """
    return tuple(
        VariableValue(
            clean(value.path),
            None if value.value is None or is_secret(value.path) else storable(value.value),
            value.readonly,
        )
        for value in values
        if 0 < len(value.path) <= LONGEST_TEXT
    )


def told_at(at: datetime | None, now: datetime) -> datetime:
    """The instant that a status counts from.

    The time of arrival when the station gave none, or one that cannot be: in the future, or of a
    clock that was never set.
    """
    return now if at is None or at > now or at < OLDEST_CLOCK else at


def is_possible(report: StatusReported) -> bool:
    """Whether a station can have such an EVSE and connector at all; if not, there is nothing to keep."""
    return 0 <= report.evse <= HIGHEST_NUMBER and 0 <= report.connector <= HIGHEST_NUMBER


class StatusOutcome(StrEnum):
    """What a report changed."""

    CHANGED = "changed"
    REFRESHED = "refreshed"
    LATE = "late"
    OTHER_CONNECTOR = "other_connector"


@dataclass(frozen=True, slots=True)
class StatusDecision:
    """The EVSE as it is kept from now on; for LATE and OTHER_CONNECTOR it is as it was."""

    outcome: StatusOutcome
    evse: Evse


def decide_status(
    kept: Evse | None, station_id: str, report: StatusReported, now: datetime
) -> StatusDecision:
    """What `report`, arrived at `now`, makes of the EVSE that we `kept`.

    An EVSE that we did not know comes into being unconfirmed. A report older than what we know is
    late and changes nothing. Of several connectors of one EVSE the one in use speaks for it.
    """
    at = told_at(report.at, now)
    told = Evse(
        station_id=station_id,
        number=report.evse,
        connector=report.connector,
        # 0 is the station itself, which needs nobody's word.
        confirmed=report.evse == 0 if kept is None else kept.confirmed,
        status=report.status,
        error=clean(report.error, LONGEST_ERROR),
        info=clean(" ".join(text for text in (report.info, report.vendor_error) if text)),
        status_at=at,
    )
    if kept is None or kept.status_at is None:
        return StatusDecision(StatusOutcome.CHANGED, told)
    if at < kept.status_at:
        return StatusDecision(StatusOutcome.LATE, kept)
    if report.connector != kept.connector and _weight(report.status) <= _weight(kept.status):
        return StatusDecision(StatusOutcome.OTHER_CONNECTOR, kept)
    same = replace(told, status_at=kept.status_at) == kept
    return StatusDecision(StatusOutcome.REFRESHED if same else StatusOutcome.CHANGED, told)


def _weight(status: EvseStatus) -> int:
    if status in _IN_USE:
        return 3
    if status is EvseStatus.RESERVED:
        return 2
    return 1 if status is EvseStatus.AVAILABLE else 0


def questions_after_connect(*, registration: Registration, refuses_trigger: bool) -> tuple[Trigger, ...]:
    """What to ask a station that has just booted or come back.

    Its state may have changed unheard, and many tell it once only. One that answered that it
    knows no such message is not asked again. Never ask an accepted station to boot (OCPP 1.6
    errata 3.40); one that is not accepted tells nothing else.
    """
    if registration is not Registration.ACCEPTED or refuses_trigger:
        return ()
    return (Trigger(TriggerKind.STATUS),)
