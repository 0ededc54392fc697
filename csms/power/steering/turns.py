"""Whose turn it is when not everybody can run: minimum times, and what each car is owed.

Deficit round robin (Shreedhar and Varghese, SIGCOMM 1995) in its continuous form. Among the cars that
compete for one full circuit each is owed its share by weight of what all of them received together, and
pays with what it received itself; who is owed most is served first. Credit is carried over only while the
car wants to charge, and never beyond `CAP_QUANTA` turns at the station's highest current.

Minimum times spare contactors, and cars that give up when they are paused often: who has just begun is
not displaced, and who was just paused is not let in again at once.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

CAP_QUANTA = 2.0
MIN_ON_S = 600.0
"""Before that only a cut for safety takes a car off, whatever the priority of others."""
MIN_OFF_S = 300.0
"""The floor of common practice: a longer one would leave room unused that a short step has made."""


@dataclass(frozen=True, slots=True)
class Turn:
    """Since when the car has been charging or waiting, in seconds; both None: neither.

    `paused_since_s`: since when a car that was charging is held back by us. `owed_as`: A·s per unit of
    weight that it is owed; below 0 it has had more than its share.
    """

    running_since_s: float | None = None
    waiting_since_s: float | None = None
    paused_since_s: float | None = None
    owed_as: float = 0.0

    def runs(self, now_s: float) -> "Turn":
        """It is offered current from now on."""
        return Turn(running_since_s=now_s, owed_as=self.owed_as)

    def waits(self, now_s: float, *, was_offered: bool) -> "Turn":
        """It gets nothing from now on; `was_offered`: that takes it off."""
        return Turn(
            waiting_since_s=now_s, paused_since_s=now_s if was_offered else None, owed_as=self.owed_as
        )

    def runs_for_less_than(self, seconds: float, now_s: float) -> bool:
        """Whether it runs, and has not done so for that long."""
        return self.running_since_s is not None and now_s - self.running_since_s < seconds

    def rests(self, now_s: float) -> bool:
        """Whether it was paused so lately that it is not let in again."""
        return self.paused_since_s is not None and now_s - self.paused_since_s < MIN_OFF_S

    def rests_until_s(self) -> float | None:
        return None if self.paused_since_s is None else self.paused_since_s + MIN_OFF_S

    def earned(self, owed_as: float, quantum_as: float) -> "Turn":
        """`owed_as` more, within what may be carried over. `quantum_as`: a whole turn at full current."""
        most = CAP_QUANTA * quantum_as
        return replace(self, owed_as=max(-most, min(most, self.owed_as + owed_as)))


@dataclass(frozen=True, slots=True)
class Contender:
    """A car that wants to charge, and what it draws now: A per own conductor. `circuit`: the full one
    that it competes for."""

    circuit: str
    weight: float
    received_a: float


def earnings(contenders: Sequence[Contender], seconds: float) -> list[float]:
    """What each is owed more, in A·s per unit of weight, after so many seconds.

    Weighted, the sum over each circuit is 0: nobody is owed what nobody received.
    """
    fair = {circuit: _per_weight(contenders, circuit) for circuit in {c.circuit for c in contenders}}
    return [seconds * (fair[c.circuit] - c.received_a / c.weight) for c in contenders]


def _per_weight(contenders: Iterable[Contender], circuit: str) -> float:
    those = [c for c in contenders if c.circuit == circuit]
    return sum(c.received_a for c in those) / sum(c.weight for c in those)
