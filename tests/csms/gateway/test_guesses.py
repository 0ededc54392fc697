"""How often somebody may be wrong."""

from csms.gateway.guesses import FOR_ONE, FROM_ONE_ADDRESS, WINDOW_S, Guesses


def test_ten_wrong_keys_and_then_a_wait() -> None:
    guesses = Guesses()
    for second in range(FOR_ONE):
        assert guesses.blocked_s("10.0.0.7", "BAY-01", second) == 0
        guesses.wrong("10.0.0.7", "BAY-01", second)
    assert guesses.blocked_s("10.0.0.7", "BAY-01", FOR_ONE) == WINDOW_S - FOR_ONE
    assert guesses.blocked_s("10.0.0.7", "BAY-02", FOR_ONE) == 0, "its neighbour may try"
    assert guesses.blocked_s("10.0.0.8", "BAY-01", FOR_ONE) == 0, "nobody is shut out from elsewhere"
    assert guesses.blocked_s("10.0.0.7", "BAY-01", WINDOW_S) == 0, "the first is forgotten"


def test_one_address_has_more_room_but_not_without_end() -> None:
    guesses = Guesses()
    for number in range(FROM_ONE_ADDRESS):
        guesses.wrong("10.0.0.7", f"BAY-{number}", 0.0)
    assert guesses.blocked_s("10.0.0.7", "BAY-new", 1.0) == WINDOW_S - 1


def test_a_right_key_makes_a_slip_of_it() -> None:
    guesses = Guesses()
    for _ in range(FOR_ONE):
        guesses.wrong("10.0.0.7", "BAY-01", 0.0)
    guesses.right("10.0.0.7", "BAY-01")
    assert guesses.blocked_s("10.0.0.7", "BAY-01", 1.0) == 0
