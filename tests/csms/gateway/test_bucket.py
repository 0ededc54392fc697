"""By hand: 10 a second in the long run and 3 at once."""

import pytest

from csms.gateway.bucket import Bucket


def test_a_burst_passes_and_what_follows_waits_its_turn() -> None:
    bucket = Bucket(10.0, 3, now_s=0.0)
    assert [bucket.take(0.0) for _ in range(5)] == pytest.approx([0, 0, 0, 0.1, 0.2])


def test_time_fills_it_up_to_the_burst_and_no_further() -> None:
    bucket = Bucket(10.0, 3, now_s=0.0)
    for _ in range(3):
        bucket.take(0.0)
    assert bucket.take(0.1) == 0.0
    assert [bucket.take(1000.0) for _ in range(4)] == pytest.approx([0, 0, 0, 0.1])


def test_one_that_waits_as_told_keeps_the_pace() -> None:
    bucket, now_s = Bucket(10.0, 3, now_s=0.0), 0.0
    for _ in range(103):
        now_s += bucket.take(now_s)
    assert now_s == pytest.approx(10.0)
