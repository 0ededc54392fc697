"""What a member is, and when its fields are sound."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import TypedDict

from csms.errors import InvalidInput
from csms.sites.model import check_id, check_name

LONGEST_EMAIL = 254


class MemberKind(StrEnum):
    """What stands behind a member; all are treated alike."""

    FLAT = "flat"
    PERSON = "person"
    VEHICLE = "vehicle"


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """`active` False: none of its tokens may charge, and what it charged stays booked."""

    id: str
    site_id: str
    kind: MemberKind
    name: str
    email: str = ""
    active: bool = True
    created_at: datetime


class MemberChanges(TypedDict, total=False):
    """What may be changed of a member; what is left out stays."""

    kind: MemberKind
    name: str
    email: str
    active: bool


def check_member(member: Member) -> Member:
    """`member` with its texts in their final form; InvalidInput names the field that is wrong."""
    return Member(
        id=check_id("id", member.id),
        site_id=member.site_id,
        kind=_check_kind(member.kind),
        name=check_name("name", member.name),
        email=check_email(member.email),
        active=member.active,
        created_at=member.created_at,
    )


def check_email(value: str) -> str:
    """`value` without blanks around it, if mail could go there or it is empty."""
    value = value.strip()
    if not value:
        return value
    local, at, domain = value.rpartition("@")
    if not (local and at and "." in domain.strip(".")) or " " in value or not value.isprintable():
        raise InvalidInput("email", "give an address such as flat12@example.org, or leave it empty")
    if len(value) > LONGEST_EMAIL:
        raise InvalidInput("email", f"has {len(value)} characters; at most {LONGEST_EMAIL} are kept")
    return value


def _check_kind(value: str) -> MemberKind:
    try:
        return MemberKind(value)
    except ValueError:
        raise InvalidInput("kind", f"{value!r} is none of {', '.join(MemberKind)}") from None
