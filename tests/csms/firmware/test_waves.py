"""Who is next, and whether to go on."""

from dataclasses import replace
from datetime import UTC, datetime, time

import pytest

from csms.firmware.campaign import Campaign
from csms.firmware.update import Update, UpdateState
from csms.firmware.waves import failed, in_hours, is_over, next_stations, too_many_failed

NOW = datetime(2026, 11, 2, 11, tzinfo=UTC)
CAMPAIGN = Campaign(id="c", site_id="yard", image_id="w", canaries=2, at_once=3, created_at=NOW)
W, A, N, F, U = (
    UpdateState.WAITING,
    UpdateState.ASKED,
    UpdateState.INSTALLED,
    UpdateState.FAILED,
    UpdateState.UNKNOWN,
)


def made(*states: UpdateState, canaries: int = 2) -> list[Update]:
    return [
        Update(campaign_id="c", station_id=f"BAY-{n}", state=state, canary=n < canaries, changed_at=NOW)
        for n, state in enumerate(states)
    ]


ALL = frozenset(f"BAY-{n}" for n in range(200))


def test_canaries_go_first_and_alone() -> None:
    assert next_stations(CAMPAIGN, made(W, W, W, W), ALL) == ("BAY-0", "BAY-1")
    assert next_stations(CAMPAIGN, made(N, A, W, W), ALL) == (), "until the last of them is over"
    assert next_stations(CAMPAIGN, made(N, N, W, W, W, W), ALL) == ("BAY-2", "BAY-3", "BAY-4")


def test_never_more_than_its_room_and_never_where_somebody_charges() -> None:
    assert next_stations(CAMPAIGN, made(N, N, A, A, W, W), ALL) == ("BAY-4",)
    assert next_stations(CAMPAIGN, made(N, N, A, A, A, W), ALL) == ()
    assert next_stations(CAMPAIGN, made(N, N, W, W, W, W), ALL - {"BAY-2", "BAY-3"}) == ("BAY-4", "BAY-5")


@pytest.mark.parametrize(
    ("states", "stop"),
    [
        ((N, F, W), True),
        ((N, U, W), True),
        ((N, N, N, F, W), False),
        ((N, N, N, N, F), True),
        ((*[N] * 9, F), False),
        ((*[N] * 8, F, F), True),
    ],
)
def test_it_stops_at_a_bad_canary_or_above_the_share(states: tuple[UpdateState, ...], stop: bool) -> None:
    assert too_many_failed(CAMPAIGN, made(*states)) is stop


def test_what_a_person_has_forgiven_does_not_stop_it_again() -> None:
    updates = made(*[N] * 8, F, F)
    forgiving = replace(CAMPAIGN, forgiven=failed(updates))
    assert not too_many_failed(forgiving, updates)
    assert too_many_failed(forgiving, [*updates, *made(F, F, canaries=0)])


@pytest.mark.parametrize(
    ("start", "end", "at", "inside"),
    [
        ("00:00", "00:00", "11:00", True),
        ("01:00", "05:00", "01:00", True),
        ("01:00", "05:00", "05:00", False),
        ("22:00", "05:00", "23:30", True),
        ("22:00", "05:00", "04:59", True),
        ("22:00", "05:00", "12:00", False),
    ],
)
def test_its_hours(start: str, end: str, at: str, inside: bool) -> None:
    campaign = replace(CAMPAIGN, from_local=time.fromisoformat(start), to_local=time.fromisoformat(end))
    local = datetime.combine(NOW.date(), time.fromisoformat(at), UTC)
    assert in_hours(campaign, local) is inside


def test_it_is_over_when_all_are() -> None:
    assert is_over(made(N, F, U, UpdateState.SKIPPED))
    assert not is_over(made(N, A))
