from collections.abc import Callable
from typing import Any

from csms.power.installation import Evse
from csms.power.steering.learned import Learned
from csms.power.steering.notices import Notice, NoticeKind

Make = Callable[..., Any]


def test_that_it_cannot_pause_is_believed_the_second_time() -> None:
    once = Learned().answered(0.0, accepted=False)
    assert once.zero is None
    assert once.answered(6.0, accepted=False).zero is None
    assert once.answered(0.0, accepted=False).zero is False
    assert once.answered(0.0, accepted=True) == Learned(zero=True)


def test_what_it_keeps_is_what_it_says_after_a_boot() -> None:
    assert Learned().read_back(None, 6.0).kept is None
    assert Learned().read_back(6.0, 6.0).kept is True
    assert Learned().read_back(0.0, 6.0).kept is True
    assert Learned().read_back(32.0, 6.0).kept is False


def test_a_car_that_cannot_be_paused_has_its_minimum_reserved(yard: Make) -> None:
    """It waits with its pilot on: it can start within seconds."""
    site = yard(bays=2, limit_a=20.0).connect()
    site.settle(2)
    site.real[site.evses[0]].takes_zero = False
    site.plug(0).settle(2)
    site.plug(1, priority=5, max_a=14.0).settle(20)
    site.change(0, lambda bay: bay.wants(False))
    site.settle(45)
    assert site.offered() == [6.0, 14.0]
    site.unplug(1)
    site.plug(1, min_a=15.0).settle(70)
    # 15 A and 6 A are too much: the wish to pause is refused twice, and from then on it is known.
    assert site.bay(0).learned.zero is False
    assert site.offered()[0] == 6.0
    assert not site.offered()[1]
    assert Notice(NoticeKind.CANNOT_PAUSE, Evse("bay-0", 1)) in site.look().notices
    assert not any(step.stops for step in site.steps)


def test_a_car_held_with_its_pilot_off_needs_nothing_reserved(yard: Make) -> None:
    site = yard(bays=2, limit_a=20.0).connect()
    site.settle(2)
    site.plug(0, max_a=14.0).settle(2)
    site.plug(1, min_a=15.0).settle(30)
    assert site.offered() == [14.0, None]
    assert site.bay(1).promise.counted(site.now_s) == 0.0
