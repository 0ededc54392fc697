"""What replaces what, and what a clearing takes."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from csms.stations.commands import ClearProfiles
from csms.stations.composite.shelf import (
    Held,
    clear,
    duplicate_of,
    end_transaction,
    install,
    phase_conflict_of,
)
from csms.stations.model import ChargingProfile, ProfileKind, ProfilePeriod, ProfilePurpose

T0 = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)


def held(
    number: int,
    evse: int,
    purpose: ProfilePurpose = ProfilePurpose.TX_DEFAULT,
    level: int = 0,
    transaction_id: str | None = None,
    valid: tuple[datetime | None, datetime | None] = (None, None),
) -> Held:
    made = ChargingProfile(
        id=number,
        stack_level=level,
        purpose=purpose,
        kind=ProfileKind.ABSOLUTE,
        periods=(ProfilePeriod(0, 6.0),),
        start_at=T0,
        transaction_id=transaction_id,
        valid_from=valid[0],
        valid_to=valid[1],
    )
    return Held(evse, made)


THREE = (held(1, 1), held(2, 1, level=1), held(3, 0, ProfilePurpose.STATION_MAX))


@pytest.mark.parametrize(
    ("command", "cleared"),
    [
        # OCPP 1.6 errata 3.25 and 3.26.
        (ClearProfiles(), {1, 2, 3}),
        (ClearProfiles(evse=1), {1, 2}),
        (ClearProfiles(purpose=ProfilePurpose.TX_DEFAULT, stack_level=1), {2}),
        (ClearProfiles(id=3, evse=1), {3}),
        (ClearProfiles(id=9), set()),
    ],
)
def test_what_a_clearing_takes(command: ClearProfiles, cleared: set[int]) -> None:
    assert {each.profile.id for each in THREE} - {
        each.profile.id for each in clear(THREE, command)
    } == cleared


def test_external_constraints_are_not_ours_to_clear() -> None:
    external = held(-1, 0, ProfilePurpose.EXTERNAL)
    assert clear((external,), ClearProfiles()) == (external,)


def test_the_same_id_replaces_in_every_version() -> None:
    moved = held(1, 2, level=5)
    for later in (False, True):
        assert install(THREE, moved, later=later) == (*THREE[1:], moved)


def test_in_1_6_the_same_purpose_and_level_replace_too() -> None:
    other = held(7, 1)
    assert install(THREE, other, later=False) == (*THREE[1:], other)
    assert install(THREE, other, later=True) == (*THREE, other)
    elsewhere = held(7, 2)
    assert install(THREE, elsewhere, later=False) == (*THREE, elsewhere)


def test_in_2_x_that_is_a_duplicate_unless_they_are_never_valid_together() -> None:
    assert duplicate_of(THREE, held(7, 1)) is THREE[0]
    assert duplicate_of(THREE, held(1, 1)) is None
    assert duplicate_of(THREE, held(7, 2)) is None
    first = held(1, 1, valid=(None, T0))
    assert duplicate_of((first,), held(7, 1, valid=(T0, None))) is None
    assert duplicate_of((first,), held(7, 1, valid=(T0 - timedelta(seconds=1), None))) is first


def test_profiles_of_different_transactions_are_no_duplicates() -> None:
    mine = held(1, 1, ProfilePurpose.TX, transaction_id="a")
    assert duplicate_of((mine,), held(2, 1, ProfilePurpose.TX, transaction_id="b")) is None
    assert duplicate_of((mine,), held(2, 1, ProfilePurpose.TX, transaction_id="a")) is mine


def test_a_transactions_profile_ends_with_it() -> None:
    mine = held(4, 1, ProfilePurpose.TX)
    other = held(5, 2, ProfilePurpose.TX)
    assert end_transaction((*THREE, mine, other), 1) == (*THREE, other)


def on_line(number: int, evse: int, line: int | None, purpose: ProfilePurpose = ProfilePurpose.TX) -> Held:
    made = held(number, evse, purpose)
    return Held(evse, replace(made.profile, periods=(ProfilePeriod(0, 16.0, 1, line),)))


def test_v4_two_profiles_that_want_different_lines_conflict() -> None:
    # OCPP 2.1 errata 2025-09, K01.FR.141.
    most = on_line(1, 0, 1, ProfilePurpose.STATION_MAX)
    assert phase_conflict_of((most,), on_line(2, 1, 3)) is most
    assert phase_conflict_of((most,), on_line(2, 1, 1)) is None
    assert phase_conflict_of((most,), on_line(2, 1, None)) is None
    assert phase_conflict_of((on_line(3, 2, 1),), on_line(2, 1, 3)) is None
    assert phase_conflict_of((on_line(2, 1, 1),), on_line(2, 1, 3)) is None
