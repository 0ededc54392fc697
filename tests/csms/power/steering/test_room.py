from collections.abc import Callable
from typing import Any

import pytest

from csms.power.installation import LINES, Circuit, Evse, Installation, Line, System, Wiring
from csms.power.steering.room import Room
from csms.power.steering.state import new_site
from csms.power.steering.timing import USUAL

Make = Callable[..., Any]


def room(site: Any, base_a: dict[str, dict[Line, float]] | None = None) -> Room:
    return Room(
        site.state.network, site.state.bays.values(), base_a or {"main": {}}, site.now_s, USUAL.ahead_s
    )


def two(yard: Make) -> Any:
    site = yard(bays=2).connect()
    site.settle(1)
    site.plug(0).settle(1)
    site.plug(1)
    return site


def test_room_is_what_all_promises_leave(yard: Make) -> None:
    site = two(yard)
    site.look()  # a lowering to 16 A is on its way: it frees nothing
    assert room(site).most_for(site.bay(1)) == pytest.approx(0.0)
    assert room(site).most_for(site.bay(0)) == pytest.approx(32.0)
    site.answer_all()
    site.now_s += 5.0
    assert room(site).most_for(site.bay(1)) == pytest.approx(16.0)
    assert room(site, {"main": {Line.L3: 4.0}}).most_for(site.bay(1)) == pytest.approx(12.0)


def test_what_is_taken_is_gone_for_the_next(yard: Make) -> None:
    site = yard(bays=2).connect()
    site.settle(1)
    free = room(site)
    free.take(site.bay(0), 20.0)
    assert free.most_for(site.bay(1)) == pytest.approx(12.0)
    assert free.most_for(site.bay(0)) == pytest.approx(32.0)
    free.take(site.bay(0), 10.0)  # a promise does not shrink by being taken again
    assert free.promised_a()["main"] == dict.fromkeys(LINES, 20.0)


def test_room_for_a_fallback_that_is_about_to_return_is_kept(yard: Make) -> None:
    site = yard(bays=2, fallback_a=6.0).connect()
    site.settle(1)
    assert room(site).most_for(site.bay(1)) == pytest.approx(32.0)
    site.now_s += 3500
    assert site.bay(0).promise.counted(site.now_s) == 0.0
    assert room(site).most_for(site.bay(1)) == pytest.approx(26.0)


def test_overfull_names_the_line(yard: Make) -> None:
    site = two(yard)
    assert room(site).overfull() == []
    assert room(site, {"main": {Line.L2: 1.0}}).overfull() == [("main", Line.L2)]


def test_less_than_it_counts_with_when_there_is_no_room(yard: Make) -> None:
    site = two(yard)
    assert room(site, {"main": dict.fromkeys(LINES, 20.0)}).most_for(site.bay(0)) == pytest.approx(12.0)
    assert room(site, {"main": dict.fromkeys(LINES, 40.0)}).most_for(site.bay(0)) == 0.0


def test_there_is_none_where_a_delta_is_over_already() -> None:
    """Such a line has no level at which it is just full; an infinity would stop the steering."""
    wiring = Wiring(evse=Evse("bay", 1), circuit="main")
    main = Circuit(id="main", limit_a=dict.fromkeys(LINES, 32.0))
    state = new_site(Installation(system=System.IT_230, circuits=(main,), wirings=(wiring,)))
    over = Room(state.network, state.bays.values(), {"main": dict.fromkeys(LINES, 40.0)}, 0.0, 0.0)
    assert over.most_for(state.bays[wiring.evse]) == 0.0
