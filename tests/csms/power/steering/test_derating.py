"""Stations that give less than they were told to: they reduce first, and stop at a critical value."""

from collections.abc import Callable
from typing import Any

from csms.power.installation import Evse
from csms.power.steering.derating import HOT_C, PROBE_EVERY_S, SEEN_FOR_S, Derating
from csms.power.steering.notices import Notice, NoticeKind

Make = Callable[..., Any]


def watch(found: Derating, seconds: int, **facts: Any) -> Derating:
    usual = {"offer_a": 32.0, "offer_since_s": 0.0, "drawn_a": 19.8, "station_a": 20.0, "temperature_c": None}
    for second in range(seconds + 1):
        found = found.observe(**{**usual, **facts}, at_s=100.0 + second, step_a=1.0)
    return found


def test_a_station_that_says_it_gives_less_is_believed_after_30_s() -> None:
    assert watch(Derating(), int(SEEN_FOR_S) - 1).max_a is None
    assert watch(Derating(), int(SEEN_FOR_S)).max_a == 20.0


def test_heat_alone_is_enough_when_the_car_draws_less_than_offered() -> None:
    assert watch(Derating(), 40, station_a=None, temperature_c=HOT_C).max_a == 20.0
    assert watch(Derating(), 40, station_a=None, temperature_c=HOT_C - 1).max_a is None
    assert watch(Derating(), 40, station_a=None, temperature_c=HOT_C, drawn_a=31.5).max_a is None


def test_what_says_nothing_about_the_station_is_not_taken_for_heat() -> None:
    assert watch(Derating(), 40, drawn_a=0.0).max_a is None  # the car takes nothing
    assert watch(Derating(), 40, station_a=0.0).max_a is None  # paused
    assert watch(Derating(), 40, station_a=31.5).max_a is None
    assert watch(Derating(), 40, offer_since_s=95.0, station_a=20.0).max_a == 20.0
    assert watch(Derating(), 30, offer_since_s=95.0, station_a=20.0).max_a is None  # on its way up


def test_it_may_show_from_time_to_time_that_it_gives_more() -> None:
    hot = Derating(20.0, 100.0)
    assert hot.next_s() == 100.0 + PROBE_EVERY_S
    assert hot.probe(100.0 + PROBE_EVERY_S - 1) is hot
    assert hot.probe(100.0 + PROBE_EVERY_S) == Derating()


def test_the_rest_is_for_others_and_stays_with_the_station(yard: Make) -> None:
    site = yard(bays=2, limit_a=40.0).connect()
    site.settle(2)
    site.plug(0, 1).settle(20)
    assert site.offered() == [20.0, 20.0]
    for _ in range(90):
        for bay in (0, 1):
            amperes = 10.0 if bay == 0 else site.offered()[1]
            site.change(
                bay,
                lambda b, a=amperes, hot=bay == 0: b.measured(
                    (a, a, a), site.now_s, station_a=10.0 if hot else None
                ),
            )
        site.settle(1)
    assert site.offered() == [10.0, 30.0]
    notice = Notice(NoticeKind.DERATED, Evse("bay-0", 1))
    assert notice in site.look().notices
    site.unplug(0)
    site.settle(12)
    site.plug(0).settle(60)
    assert site.offered()[0] == 10.0  # another car, the same hot station
    site.settle(PROBE_EVERY_S + 100)
    assert notice not in site.look().notices
    assert site.offered() == [20.0, 20.0]
