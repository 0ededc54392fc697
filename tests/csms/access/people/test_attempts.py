"""Failed sign-ins are counted per name."""

from datetime import UTC, datetime, timedelta

from csms.access.people.attempts import Attempts

START = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)


def test_the_sixth_attempt_has_to_wait_until_the_first_is_five_minutes_old() -> None:
    attempts = Attempts()
    at = [START + timedelta(seconds=10 * n) for n in range(5)]
    assert all(attempts.take("olga", now) for now in at)
    assert not attempts.take("olga", START + timedelta(seconds=299))
    assert attempts.take("olga", START + timedelta(seconds=300))
    assert not attempts.take("olga", START + timedelta(seconds=301))


def test_names_do_not_count_for_each_other() -> None:
    attempts = Attempts(failures=1)
    assert attempts.take("olga", START)
    assert attempts.take("piet", START)
    assert not attempts.take("olga", START)


def test_a_good_attempt_clears_the_count() -> None:
    attempts = Attempts(failures=1)
    attempts.take("olga", START)
    attempts.forget("olga")
    assert attempts.take("olga", START)


def test_endless_names_do_not_fill_the_memory() -> None:
    attempts = Attempts(names=3)
    for number in range(50):
        attempts.take(f"name {number}", START)
    assert len(attempts) == 3
