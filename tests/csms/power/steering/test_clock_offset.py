from csms.power.steering.clock_offset import ClockOffset


def told(lags: list[float], every_s: float = 10.0) -> ClockOffset:
    found = ClockOffset()
    for i, lag in enumerate(lags):
        now = 1000.0 + i * every_s
        found = found.told(now - lag, now)
    return found


def test_a_clock_that_is_off_all_the_while_is_known() -> None:
    assert told([300.0, 301.0, 300.4, 300.2, 302.0]).off_s == 300.0
    assert told([-90.0] * 5).off_s == -90.0


def test_the_way_of_a_message_is_no_offset() -> None:
    assert told([0.5, 1.0, 4.0, 2.0, 0.8]).off_s == 0.0


def test_too_few_readings_and_too_short_a_time_say_nothing() -> None:
    assert told([300.0] * 4).off_s == 0.0
    assert told([300.0] * 5, every_s=1.0).off_s == 0.0


def test_a_station_that_tells_of_its_past_is_no_station_with_a_wrong_clock() -> None:
    assert told([3600.0 - 50.0 * i for i in range(8)]).off_s == 0.0


def test_a_clock_that_was_set_right_is_believed_again() -> None:
    assert told([300.0] * 5 + [0.5]).off_s == 0.0
    assert told([300.0] * 5 + [0.5] * 5).off_s == 0.0
