"""A car that waits for us is held by us; one that is full, or nobody's, is not."""

from collections.abc import Callable
from typing import Any

from csms.power.steering.pauses import holds
from csms.power.steering.picture import BayState, show

Make = Callable[..., Any]


def test_only_the_car_that_waits_is_held(yard: Make) -> None:
    site = yard(bays=3, limit_a=10.0).connect()
    site.settle(1)
    site.plug(0).settle(1)
    site.plug(1).settle(2)
    picture = show(site.state, site.now_s)
    assert [bay.state for bay in picture.bays] == [BayState.CHARGING, BayState.WAITING, BayState.EMPTY]
    assert holds(picture) == {picture.bays[1].evse}
