"""What there is to raise: its weight, how long it has to hold, whether it ends by itself, and words.

Common practice of operating chargers, no standard: OCPP names the errors, not what they mean to a
house. Electrical work on a charger or its circuit is for a licensed electrician.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta

from csms.alarms.alarm import Severity

NOTICE, WARNING, URGENT = Severity.NOTICE, Severity.WARNING, Severity.URGENT
AT_ONCE = timedelta(0)
ELECTRICIAN = "Leave it switched off until a licensed electrician has looked at it."


@dataclass(frozen=True, slots=True)
class Kind:
    """`hold`: how long it has to last before anybody is told. `latched`: ends by a person only."""

    severity: Severity
    title: str
    what_to_do: str
    hold: timedelta = AT_ONCE
    latched: bool = False


def _minutes(count: float) -> timedelta:
    return timedelta(minutes=count)


KINDS: Mapping[str, Kind] = {
    "ground_fault": Kind(URGENT, "Earth fault or residual current", ELECTRICIAN),
    "over_current": Kind(URGENT, "Over-current in the charger", ELECTRICIAN),
    "over_temperature_stop": Kind(
        URGENT,
        "Stopped because it is too hot",
        "Let it cool down, look for a covered vent or a worn plug; if it comes again, call an electrician.",
    ),
    "over_temperature": Kind(
        WARNING, "Too hot", "It charges more slowly. Look for a covered vent or a worn plug.", _minutes(1)
    ),
    "contactor": Kind(URGENT, "The contactor does not switch", ELECTRICIAN),
    "voltage": Kind(
        WARNING,
        "Voltage too high or too low",
        "If several chargers tell it at once, ask the grid operator; if one does, an electrician.",
        _minutes(2),
    ),
    "lock": Kind(
        WARNING, "The plug's lock does not work", "Free the plug by hand, and try again.", _minutes(1)
    ),
    "meter_failure": Kind(
        WARNING, "The charger's meter fails", "What it charges cannot be billed until it is mended."
    ),
    "reader": Kind(WARNING, "The card reader fails", "Drivers can be let in by hand until it is mended."),
    "car_communication": Kind(
        NOTICE,
        "Car and charger do not understand each other",
        "Unplug the car and plug it in again.",
        _minutes(5),
    ),
    "fault": Kind(
        WARNING, "The charger tells a fault", "Restart it; if it stays, ask its maker.", _minutes(1)
    ),
    "charger_lost": Kind(
        WARNING,
        "Not connected",
        "It goes on by itself at its fallback. Look at its power and its network.",
        _minutes(5),
    ),
    "many_chargers_lost": Kind(
        URGENT,
        "Many chargers lost at once",
        "Look at the network of the site: a switch or the line to the internet.",
        _minutes(3),
    ),
    "wrong_serial": Kind(
        WARNING,
        "Another charger than expected",
        "Confirm the exchange, or set the right serial number.",
        latched=True,
    ),
    "clock_off": Kind(
        NOTICE, "Its clock is wrong", "Times are mended here; set its time server.", _minutes(10)
    ),
    "limit_ignored": Kind(
        URGENT,
        "Draws more than it may",
        "Other chargers are lowered for it. Look at its settings.",
        _minutes(1),
    ),
    "lowering_refused": Kind(
        WARNING, "Refuses a lower limit", "It counts at its full rating until it takes one.", _minutes(1)
    ),
    "limits_forgotten": Kind(
        WARNING,
        "Does not keep its limits",
        "It counts at its full rating; newer firmware may help.",
        _minutes(1),
    ),
    "fallback_not_stored": Kind(
        WARNING,
        "Has not stored its fallback",
        "It counts at its full rating while it is out of reach.",
        _minutes(10),
    ),
    "no_plan": Kind(
        WARNING,
        "No plan can be made",
        "Cars are not held back meanwhile; `GET /v1/sites/{id}/plan` says why there is none.",
        _minutes(20),
    ),
    "over_limit": Kind(
        URGENT,
        "Promised more than the circuit allows",
        "The building took more than it could. Watch it; lower the load if it lasts.",
        timedelta(seconds=30),
    ),
    "meter_silent": Kind(
        URGENT,
        "The building's meter is silent",
        "Cars get what is safe at the worst. Look at the meter.",
        _minutes(1),
    ),
    "register_fault": Kind(
        WARNING,
        "The energy register is odd",
        "The session is kept as told; look at it before it is billed.",
        latched=True,
    ),
    "session_unassigned": Kind(
        NOTICE,
        "Energy that belongs to no session",
        "See what the charger told, and assign it by hand.",
        latched=True,
    ),
    "session_unpriced": Kind(
        NOTICE, "A session without a price", "Set a tariff, or bring in the missing prices."
    ),
    "statements_stopped": Kind(
        WARNING, "A month's statements were stopped", "See why on the page Month, and issue it again."
    ),
    "security": Kind(
        WARNING, "A security event", "See what the charger told; change its key if in doubt.", latched=True
    ),
    "self_test_failed": Kind(URGENT, "The self-test of the protection failed", ELECTRICIAN),
    "self_test_overdue": Kind(
        WARNING, "The self-test of the protection is overdue", "Start it by hand, or have it tested."
    ),
    "certificate_expires": Kind(WARNING, "A certificate expires soon", "Renew it before it does."),
    "certificate_failed": Kind(
        WARNING, "A certificate was not taken", "See why, and have the charger ask again.", latched=True
    ),
    "upgrade_failed": Kind(
        WARNING,
        "A higher security profile was not reached",
        "The charger comes by its old way. See why, and begin again.",
        latched=True,
    ),
    "firmware_failed": Kind(
        WARNING, "A firmware update failed", "The charger keeps its old firmware; see why."
    ),
    "campaign_stopped": Kind(
        WARNING,
        "A roll-out of firmware stopped itself",
        "See why chargers failed before it goes on.",
        latched=True,
    ),
    "duplicate_identity": Kind(
        WARNING, "Two chargers with one identity", "Give one of them another identity.", latched=True
    ),
}
"""By name, as it stands in the database and in REST."""
