from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

import pytest

from csms.errors import InvalidInput
from csms.power.caps import Caps, CapSignal, CapWindow
from csms.power.installation import LINES, Circuit, Installation, System
from csms.power.sharing.allocator import allocate
from csms.power.sharing.currents import Network
from csms.power.sharing.demand import Bound, BoundKind, Demand

AMSTERDAM = ZoneInfo("Europe/Amsterdam")
EVENING = CapWindow(time(17), time(21), 20_000.0)
NIGHT = CapWindow(time(23), time(6), 60_000.0)


def at(hour: int, minute: int = 0, *, month: int = 11) -> datetime:
    return datetime(2026, month, 2, hour, minute, tzinfo=UTC)


def caps(**signals: CapSignal) -> Caps:
    return Caps(AMSTERDAM, {"main": (EVENING, NIGHT)}, {at: (signal,) for at, signal in signals.items()})


@pytest.mark.parametrize(
    ("now", "cap_w"),
    [
        (at(15, 59), None),
        (at(16), 20_000.0),  # 17:00 in winter in Amsterdam
        (at(19, 59), 20_000.0),
        (at(20), None),
        (at(22), 60_000.0),
        (at(4, 59), 60_000.0),
        (at(5), None),
        (at(15, month=7), 20_000.0),  # summer time: an hour earlier
    ],
)
def test_a_window_goes_by_the_sites_clock(now: datetime, cap_w: float | None) -> None:
    assert caps().in_force(now).get("main") == cap_w


def test_a_whole_day() -> None:
    assert CapWindow(time(0), time(0), 5.0).holds(time(0))
    assert CapWindow(time(9), time(9), 5.0).holds(time(8, 59))


def test_a_signal_ends_by_itself_and_the_lowest_counts() -> None:
    dimmed = caps(main=CapSignal(4_200.0, at(17)), shed=CapSignal(0.0, at(16, 30)))
    assert dimmed.in_force(at(16)) == {"main": 4_200.0, "shed": 0.0}
    assert dimmed.in_force(at(16, 30)) == {"main": 4_200.0}
    assert dimmed.in_force(at(17)) == {"main": 20_000.0}
    generous = caps(main=CapSignal(50_000.0, at(23)))
    assert generous.in_force(at(16)) == {"main": 20_000.0}
    assert generous.in_force(at(21)) == {"main": 50_000.0}


def test_a_signal_may_begin_later_and_of_several_the_lowest_counts() -> None:
    later = CapSignal(4_200.0, at(14), since=at(13), reason="grid operator")
    first = CapSignal(9_000.0, at(13, 30))
    both = Caps(AMSTERDAM, {}, {"main": (first, later)})
    assert both.in_force(at(12)) == {"main": 9_000.0}
    assert both.next_change(at(12)) == at(13)
    assert both.in_force(at(13)) == {"main": 4_200.0}
    assert both.signal_in_force("main", at(13)) is later
    assert both.in_force(at(14)) == {}
    assert both.signal_in_force("main", at(14)) is None
    assert both.signal_in_force("shed", at(13)) is None


def test_the_time_of_the_next_change_is_known() -> None:
    assert caps().next_change(at(12)) == at(16)
    assert caps().next_change(at(16)) == at(20)
    assert caps(shed=CapSignal(1.0, at(16, 30))).next_change(at(16)) == at(16, 30)
    assert Caps(AMSTERDAM, {}, {}).next_change(at(12)) is None
    # Clocks go back on 25 October 2026 at 03:00: half past two is there twice, and both are looked at.
    twice = Caps(AMSTERDAM, {"main": (CapWindow(time(2, 30), time(12), 1.0),)}, {})
    night = datetime(2026, 10, 25, 0, 0, tzinfo=UTC)
    assert twice.next_change(night) == night.replace(minute=30)
    assert twice.next_change(night.replace(minute=30)) == night.replace(hour=1, minute=30)


@pytest.mark.parametrize("cap_w", [-1.0, float("nan"), float("inf")])
def test_a_wrong_cap_is_refused(cap_w: float) -> None:
    with pytest.raises(InvalidInput, match="cap_w"):
        CapWindow(time(1), time(2), cap_w)
    with pytest.raises(InvalidInput, match="cap_w"):
        CapSignal(cap_w, at(1))


def test_a_time_of_the_wrong_kind_is_refused() -> None:
    with pytest.raises(InvalidInput, match="offset"):
        CapSignal(1.0, at(1).replace(tzinfo=None))
    with pytest.raises(InvalidInput, match="since: must have an offset"):
        CapSignal(1.0, at(1), since=at(1).replace(tzinfo=None))
    with pytest.raises(InvalidInput, match="own clock"):
        CapWindow(time(1, tzinfo=UTC), time(2), 1.0)


def test_a_network_takes_a_new_cap_without_being_laid_out_anew() -> None:
    """4.2 kW over three lines of 230 V are 6.087 A (section 14a EnWG: 4.2 kW, from memory)."""
    main = Circuit(id="main", limit_a=dict.fromkeys(LINES, 63.0), cap_w=30_000.0, cap_windows=(EVENING,))
    shed = Circuit(id="shed", fed_from="main", limit_a=dict.fromkeys(LINES, 32.0))
    network = Network(Installation(system=System.TN_400, circuits=(main, shed), zone=AMSTERDAM))
    car = [Demand(id="van", circuit="shed", lines=LINES)]
    assert allocate(network, car).offers_a["van"] == 32.0

    evening = network.at(at(16))
    found = allocate(evening, car)
    assert found.offers_a["van"] == pytest.approx(20_000 / 690)
    assert found.bounds["van"] == Bound(BoundKind.CAP, "main")
    assert network.at(at(21)) is network
    assert evening.at(at(17)) is evening

    dimmed = evening.at(at(17), {"shed": (CapSignal(4_200.0, at(18)),)})
    found = allocate(dimmed, car)
    assert found.offers_a["van"] == pytest.approx(4_200 / 690)
    assert found.bounds["van"] == Bound(BoundKind.CAP, "shed")
    # Nothing of the others has changed, and a cap above the standing one does not lift that.
    assert allocate(evening, car).offers_a["van"] == pytest.approx(20_000 / 690)
    lifted = network.with_caps({"main": 90_000.0})
    assert allocate(lifted, [*car, Demand(id="b", circuit="main", lines=LINES)]).offers_a == pytest.approx(
        {"van": 30_000 / 690 / 2, "b": 30_000 / 690 / 2}
    )
    with pytest.raises(KeyError, match="attic"):
        network.with_caps({"attic": 1.0})
