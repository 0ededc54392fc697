from csms.gateway.takeovers import MOST, REMEMBERED, WINDOW_S, Takeovers

A, B = "192.0.2.1", "192.0.2.2"


def test_two_addresses_in_turn_are_told_once_they_are_too_often() -> None:
    takeovers = Takeovers()
    told = [takeovers.note("s", *((A, B) if n % 2 else (B, A)), now_s=10.0 * n) for n in range(MOST + 1)]
    assert told == [()] * MOST + [(A, B)]
    assert takeovers.note("s", A, B, now_s=100.0) == (), "and not at once again"


def test_one_address_is_a_station_that_came_back() -> None:
    takeovers = Takeovers()
    assert all(takeovers.note("s", A, A, now_s=float(n)) == () for n in range(50))


def test_now_and_then_is_not_too_often() -> None:
    takeovers = Takeovers()
    told = [takeovers.note("s", A, B, now_s=n * WINDOW_S / MOST) for n in range(20)]
    assert set(told) == {()}


def test_what_is_remembered_is_bounded() -> None:
    takeovers = Takeovers()
    for number in range(REMEMBERED + 5):
        takeovers.note(f"s-{number}", A, B, now_s=0.0)
    for _ in range(MOST - 1):
        assert takeovers.note("s-0", A, B, now_s=1.0) == ()
    assert takeovers.note("s-0", A, B, now_s=1.0) == (), "its first one is forgotten"
