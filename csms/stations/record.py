"""What we keep of a station and its EVSEs, and when it is sound. Currents are in A per line."""

import math
import re
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TypedDict

from csms.errors import InvalidInput
from csms.sites.model import LINES
from csms.stations.model import EvseStatus, Registration
from csms.units import LOWEST_CURRENT_A

LONGEST_NAME = 120
LARGEST_CURRENT_A = 1000.0
LONGEST_SERIAL = 255
MOST_EVSES = 64
STEPS_A = (0.1, 1.0)
"""Steps in which a station takes limits: 1 A, or the tenth that OCPP carries at most."""

_IDENTITY = re.compile(r"[^\x00-\x20\x7f:/?#\\]([^\x00-\x1f\x7f:/?#\\]{0,46}[^\x00-\x20\x7f:/?#\\])?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A charging station as we keep it.

    `id` is its identity in the URL it connects to. Installation: `wiring` names the supply's
    line that each of its own lines L1, L2, L3 hangs on (fewer for a station with fewer lines);
    `max_current_a` is its highest, `fallback_a` what it may draw when it cannot hear us (0 or at
    least 6), `step_a` 1 or 0.1. `can_choose_line`: it can put a single-phase car on the line we
    name. `keeps_profiles` False: it forgets our limits. The texts are those of its last boot;
    `connected`, `epoch` and the times tell of its presence. `expected_serial`: the serial number of
    the charger that is to come here, "" when nobody said; one that connects with it joins this place.
    """

    id: str
    registration: Registration
    created_at: datetime
    name: str = ""
    site_id: str | None = None
    circuit_id: str | None = None
    wiring: tuple[str, ...] = LINES
    max_current_a: float = 32.0
    step_a: float = 1.0
    fallback_a: float = 0.0
    can_choose_line: bool = False
    keeps_profiles: bool = True
    expected_serial: str = ""
    has_key: bool = False
    vendor: str = ""
    model: str = ""
    serial: str = ""
    firmware: str = ""
    protocol: str = ""
    booted_at: datetime | None = None
    connected: bool = False
    epoch: int = 0
    presence_at: datetime | None = None
    last_seen_at: datetime | None = None

    @property
    def waits(self) -> bool:
        """It has connected, and nobody has given it a place yet."""
        return self.registration is Registration.PENDING and self.site_id is None

    @property
    def times_offline(self) -> bool:
        """Whether it can end a limit by itself after some time off line (new in OCPP 2.1)."""
        return self.protocol == "2.1"

    @property
    def label(self) -> str:
        """What people call it."""
        return self.name or self.id


@dataclass(frozen=True, slots=True, kw_only=True)
class Evse:
    """Where one car can charge; number 0 is the station as a whole.

    `connector` is the one that `status` was told of. `confirmed` False: the station told of an
    EVSE that nobody has said it has. `error` is the standard's code, "" when none; with a status
    other than FAULTED it is a warning. `status_at` None: it has told nothing yet.
    """

    station_id: str
    number: int
    connector: int = 1
    confirmed: bool = True
    status: EvseStatus = EvseStatus.UNAVAILABLE
    error: str = ""
    info: str = ""
    status_at: datetime | None = None


class StationChanges(TypedDict, total=False):
    """What may be changed of a station; what is left out stays."""

    name: str
    registration: Registration
    site_id: str | None
    circuit_id: str | None
    wiring: tuple[str, ...]
    max_current_a: float
    step_a: float
    fallback_a: float
    can_choose_line: bool
    keeps_profiles: bool
    expected_serial: str


def serial_key(serial: str) -> str:
    """What two writings of one serial number have in common: blanks and the case of letters are not it."""
    return "".join(serial.split()).casefold()


def check_identity(field: str, value: str) -> str:
    """`value` if a station can have it as its identity; InvalidInput otherwise.

    At most 48 characters (OCPP 2.0.1 identifierString); no colon, which ends the user name of
    HTTP Basic (RFC 7617), and nothing that ends a path segment of a URL.
    """
    if not _IDENTITY.fullmatch(value):
        raise InvalidInput(
            field, "must be 1 to 48 characters without : / ? # \\, control characters or blanks around it"
        )
    return value


def check_station(station: Station) -> Station:
    """`station` with its texts in their final form; InvalidInput names the field that is wrong."""
    check_identity("id", station.id)
    name = station.name.strip()
    if len(name) > LONGEST_NAME:
        raise InvalidInput("name", f"has {len(name)} characters; at most {LONGEST_NAME} are kept")
    if not name.isprintable():
        raise InvalidInput("name", "must be one line of text without control characters")
    if station.circuit_id is not None and station.site_id is None:
        raise InvalidInput("site_id", "must be given with circuit_id: name the site of the circuit")
    serial = station.expected_serial.strip()
    if len(serial) > LONGEST_SERIAL or not serial.isprintable():
        raise InvalidInput(
            "expected_serial", f"must be one line of at most {LONGEST_SERIAL} characters, as on its label"
        )
    _check_wiring(station.wiring)
    _check_current("max_current_a", station.max_current_a, lowest=LOWEST_CURRENT_A)
    if station.step_a not in STEPS_A:
        raise InvalidInput("step_a", f"must be 0.1 or 1, not {station.step_a:g}")
    _check_current("fallback_a", station.fallback_a, lowest=0.0)
    if 0 < station.fallback_a < LOWEST_CURRENT_A:
        raise InvalidInput(
            "fallback_a",
            f"must be 0 or at least {LOWEST_CURRENT_A:g}: no car can be told {station.fallback_a:g} A",
        )
    if station.fallback_a > station.max_current_a:
        raise InvalidInput(
            "fallback_a", f"{station.fallback_a:g} A is above max_current_a, {station.max_current_a:g} A"
        )
    return replace(
        station,
        name=name,
        max_current_a=float(station.max_current_a),
        step_a=float(station.step_a),
        fallback_a=float(station.fallback_a),
        expected_serial=serial,
    )


def check_evse_count(field: str, count: int) -> int:
    """`count` if a station can have so many EVSEs; InvalidInput otherwise."""
    if not 1 <= count <= MOST_EVSES:
        raise InvalidInput(field, f"must be from 1 to {MOST_EVSES}, not {count}")
    return count


def _check_wiring(wiring: tuple[str, ...]) -> None:
    if not 1 <= len(wiring) <= len(LINES):
        raise InvalidInput("wiring", f"must name 1 to {len(LINES)} of the supply's lines, e.g. L2, L3, L1")
    for i, line in enumerate(wiring):
        if line not in LINES:
            raise InvalidInput(f"wiring[{i}]", f"{line!r} is none of L1, L2, L3")
        if line in wiring[:i]:
            raise InvalidInput(
                f"wiring[{i}]", f"{line} is there twice; two lines of a station cannot share one"
            )


def _check_current(field: str, value: float, *, lowest: float) -> None:
    if not math.isfinite(value):
        raise InvalidInput(field, f"must be a finite number of amperes, not {value}")
    if value < lowest:
        raise InvalidInput(field, f"must be at least {lowest:g} A, not {value:g}")
    if value > LARGEST_CURRENT_A:
        raise InvalidInput(field, f"must be at most {LARGEST_CURRENT_A:g} A, not {value:g}")
