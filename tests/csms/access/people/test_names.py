"""What may be a name, a role, a password."""

import pytest
from sqlalchemy import String

from csms.access.people.names import NAME_LENGTH, checked_name, checked_password, checked_role
from csms.access.people.principal import Principal, PrincipalKind, Role
from csms.errors import InvalidInput
from csms.store.tables.stations import station_command


def test_blanks_around_a_name_are_dropped() -> None:
    assert checked_name("  Olga of the garage ") == "Olga of the garage"


@pytest.mark.parametrize("name", ["", "   ", "x" * (NAME_LENGTH + 1), "a\x00b", "a\nb", "\ud800"])
def test_bad_names_are_refused(name: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        checked_name(name)
    assert caught.value.field == "name"


def test_the_longest_name_fits_into_the_journal_of_commands() -> None:
    longest = str(Principal(PrincipalKind.PERSON, "x" * NAME_LENGTH, Role.MANAGER))
    column = station_command.c.asked_by.type
    assert isinstance(column, String)
    assert column.length is not None
    assert len(longest) <= column.length


def test_roles_are_listed_when_one_is_wrong() -> None:
    assert checked_role("reader") is Role.READER
    with pytest.raises(InvalidInput, match="manager, reader"):
        checked_role("king")


def test_only_the_length_of_a_password_counts() -> None:
    assert checked_password("aaaaaaaaaa") == "aaaaaaaaaa"
    for bad in ("aaaaaaaaa", "a" * 1001):
        with pytest.raises(InvalidInput) as caught:
            checked_password(bad)
        assert caught.value.field == "password"
