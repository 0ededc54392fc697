"""Roles and how a principal is written into a journal."""

import pytest

from csms.access.people.principal import Principal, PrincipalKind, Role


@pytest.mark.parametrize(("role", "may"), [(Role.MANAGER, True), (Role.READER, False)])
def test_only_a_manager_writes(role: Role, may: bool) -> None:
    assert role.may_write is may


def test_a_principal_names_its_kind() -> None:
    assert str(Principal(PrincipalKind.KEY, "bakery", Role.READER)) == "key:bakery"
