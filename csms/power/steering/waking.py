"""Cars that sleep: some do not start when the pilot comes back after a pause.

After a pause the minimum is offered. If the car is measured to draw nothing for two minutes it is called
once by the means of IEC 61851-1 that OCPP can ask for, the pilot's signal off and on again (state B1 to
B2): an offer of 0 A for some seconds. If it still draws nothing it is left: it counts as a car that does
not ask, its share is free for others, and it is taken up again when it draws or the station says it asks.
Without readings nobody can say that a car sleeps.
"""

from dataclasses import dataclass, replace

HELD_LONG_S = 60.0
"""A shorter pause sends no car to sleep."""
WAKE_WITHIN_S = 120.0
CALL_S = 10.0
DRAWS_A = 1.0


@dataclass(frozen=True, slots=True)
class Waking:
    """`offered_s`: when the minimum was offered after a pause (None: nothing is awaited). `called_s`:
    since when the pilot is off to call it. `called`: it was. `asleep`: it was left."""

    offered_s: float | None = None
    called_s: float | None = None
    called: bool = False
    asleep: bool = False

    @property
    def awaited(self) -> bool:
        """Whether nobody knows yet that the car has woken: it gets the minimum and no more."""
        return self.offered_s is not None

    def started(self, held_s: float, now_s: float) -> "Waking":
        """An offer goes out after the car was held for so long."""
        if self.asleep:
            return self
        if self.called_s is not None:
            return replace(self, offered_s=now_s, called_s=None, called=True)
        return Waking(offered_s=now_s) if held_s >= HELD_LONG_S else self

    def drew(self, current_a: float) -> "Waking":
        """The highest line current was measured."""
        return Waking() if current_a >= DRAWS_A else self

    def waited(self, measured_s: float, now_s: float) -> "Waking":
        """Time has passed; `measured_s`: when the car was last measured."""
        if self.offered_s is None or self.called_s is not None or now_s < self.offered_s + WAKE_WITHIN_S:
            return self
        if measured_s <= self.offered_s:
            return Waking()
        if self.called:
            return Waking(asleep=True)
        return replace(self, called_s=now_s)

    def calls(self, now_s: float) -> bool:
        """Whether the pilot is off to call the car."""
        return self.called_s is not None and now_s < self.called_s + CALL_S

    def next_s(self) -> float | None:
        """When something is due."""
        if self.called_s is not None:
            return self.called_s + CALL_S
        return None if self.offered_s is None else self.offered_s + WAKE_WITHIN_S
