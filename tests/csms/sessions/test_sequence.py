"""Numbers of messages: what has come, what is missing."""

import random

from hypothesis import given
from hypothesis import strategies as st

from csms.sessions.sequence import MOST_RUNS, Runs, missing, restored, seen


def test_runs_join_when_the_gap_is_filled() -> None:
    runs: Runs = ()
    for number in (0, 1, 4, 3):
        runs = seen(runs, number)
    assert runs == ((0, 1), (3, 4))
    assert missing(runs) == 1
    assert seen(runs, 2) == ((0, 4),)
    assert missing(()) == 0


@given(st.lists(st.integers(0, 60), min_size=1), st.randoms(use_true_random=False))
def test_order_and_repeats_do_not_matter(numbers: list[int], shuffle: random.Random) -> None:
    straight: Runs = ()
    for number in sorted(set(numbers)):
        straight = seen(straight, number)
    mixed = [*numbers, *numbers[:3]]
    shuffle.shuffle(mixed)
    runs: Runs = ()
    for number in mixed:
        runs = seen(runs, number)
    assert runs == straight
    assert missing(runs) == max(numbers) - min(numbers) + 1 - len(set(numbers))


def test_a_counter_that_jumps_about_is_bounded() -> None:
    runs: Runs = ()
    for number in range(0, 1000, 2):
        runs = seen(runs, number)
    assert len(runs) == MOST_RUNS
    assert runs[-1] == (998, 998)


def test_what_was_stored_comes_back() -> None:
    assert restored([[0, 3], [5, 6]], 6) == ((0, 3), (5, 6))
    assert restored(None, 7) == ((0, 7),)
    assert restored(None, None) == ()
