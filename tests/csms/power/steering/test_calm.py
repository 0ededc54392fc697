from csms.power.installation import Line
from csms.power.steering.calm import PART_S, WINDOW_S, Calm

L1, L2 = Line.L1, Line.L2


def test_the_highest_of_the_last_minute_counts_on_each_line() -> None:
    calm = Calm().seen({"main": {L1: 9.0, L2: 1.0}}, 0.0).seen({"main": {L1: 2.0, L2: 4.0}}, 1.0)
    assert calm.highest() == {"main": {L1: 9.0, L2: 4.0}}


def test_what_is_over_a_minute_old_is_forgotten_and_not_before() -> None:
    calm = Calm()
    for second in range(int(WINDOW_S + 2 * PART_S)):
        calm = calm.seen({"main": {L1: 9.0 if second == 0 else 1.0}}, float(second))
        if second < WINDOW_S:
            assert calm.highest() == {"main": {L1: 9.0}}
    assert calm.highest() == {"main": {L1: 1.0}}
    assert len(calm.parts) <= WINDOW_S / PART_S + 2


def test_nothing_is_known_at_first() -> None:
    assert Calm().highest() == {}
