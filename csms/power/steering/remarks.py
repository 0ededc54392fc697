"""What people should know of a bay, in words. Pure.

What a station has shown that it can, or cannot, do, and what is odd at the moment. Nothing is said where
all is as it should be.
"""

from collections.abc import Iterator

from csms.power.steering.picture import BayShown, BayState


def remarks(bay: BayShown) -> tuple[str, ...]:
    """Each without a full stop; those that take room from others first."""
    return (*_of_silence(bay), *_of_the_station(bay), *_of_now(bay))


def _of_silence(bay: BayShown) -> Iterator[str]:
    full = f"counted at its full rating of {bay.rating_a:g} A"
    if not bay.keeps:
        forgot = bay.kept_after_boot is False
        yield f"{'forgot its limits when it started anew' if forgot else 'keeps no limit'}: {full}"
    elif bay.stored is False:
        yield f"refuses its fallback: {full}"
    elif bay.stored is None and not bay.safe_in_silence and bay.state is not BayState.UNREACHABLE:
        yield "has not confirmed its fallback yet"
    if bay.follows is False:
        yield "takes one limit at a time: if nobody can hear us its car gets 0 A for up to an hour"


def _of_the_station(bay: BayShown) -> Iterator[str]:
    if bay.can_pause is False:
        yield "takes no limit of 0 A: a car that waits here keeps 6 A"
    if bay.may_choose and bay.chooses is False:
        yield "cannot put a car on another line, as was thought"
    if bay.derated_a is not None:
        yield f"gives {bay.derated_a:g} A at most for now: it may be hot"
    if bay.clock_off_s:
        yield f"its clock is {abs(bay.clock_off_s):.0f} s {'behind' if bay.clock_off_s > 0 else 'ahead'}"


def _of_now(bay: BayShown) -> Iterator[str]:
    if bay.moving:
        yield "the car is paused to be put on another line"
    if bay.asleep:
        yield "the car did not wake after its pause"
