"""Which facts mean which alarms: a file per subject, and this list. All pure."""

from collections.abc import Callable

from csms.alarms.rules import books, certificates, faults, meters, plans, power, presence, security, sessions
from csms.alarms.signs import Sign
from csms.store.fact import Fact

Rule = Callable[[Fact], tuple[Sign, ...]]

RULES: tuple[Rule, ...] = (
    presence.signs,
    faults.signs,
    plans.signs,
    power.signs,
    meters.signs,
    sessions.signs,
    books.signs,
    security.signs,
    certificates.signs,
)


def signs_of(fact: Fact) -> tuple[Sign, ...]:
    """What `fact` means, by every rule."""
    return tuple(sign for rule in RULES for sign in rule(fact))
