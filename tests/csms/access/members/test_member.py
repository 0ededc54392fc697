"""What a member may be called, and where mail may go."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import cast

import pytest

from csms.access.members.member import Member, MemberKind, check_email, check_member
from csms.errors import InvalidInput

FLAT = Member(
    id="flat-12",
    site_id="weavers-yard",
    kind=MemberKind.FLAT,
    name=" Flat 12 ",
    email=" flat12@example.org ",
    created_at=datetime(2026, 1, 1, tzinfo=UTC),
)


def test_a_member_comes_out_in_its_final_form() -> None:
    assert check_member(FLAT) == replace(FLAT, name="Flat 12", email="flat12@example.org")


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        (replace(FLAT, id="Flat 12"), "id"),
        (replace(FLAT, name="  "), "name"),
        (replace(FLAT, name="x" * 121), "name"),
        (replace(FLAT, kind=cast(MemberKind, "garage")), "kind"),
        (replace(FLAT, email="flat12"), "email"),
    ],
)
def test_what_is_wrong_with_a_member_is_named(wrong: Member, field: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        check_member(wrong)
    assert refused.value.field == field


@pytest.mark.parametrize("value", ["flat12", "@example.org", "a@b", "a b@example.org", "x" * 250 + "@a.org"])
def test_what_is_no_address_is_refused(value: str) -> None:
    with pytest.raises(InvalidInput):
        check_email(value)


def test_no_address_is_fine() -> None:
    assert check_email("  ") == ""
