"""What a group is, and what its members' standing is when the supply is short."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import TypedDict

from csms.errors import InvalidInput
from csms.sites.model import check_id, check_name

LARGEST_PRIORITY = 9
WEIGHTS = (0.001, 1000.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """A higher `priority` is served first; within one, shares are in proportion to `weight`."""

    id: str
    site_id: str
    name: str
    priority: int = 0
    weight: float = 1.0
    created_at: datetime


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a member stands when the supply is short; this one is of whoever is in no group."""

    priority: int = 0
    weight: float = 1.0


class GroupChanges(TypedDict, total=False):
    """What may be changed of a group; what is left out stays."""

    name: str
    priority: int
    weight: float


def standing(groups: Iterable[Group]) -> Standing:
    """The best of the groups: highest priority, then largest weight."""
    best = max(((group.priority, group.weight) for group in groups), default=None)
    return Standing() if best is None else Standing(*best)


def check_group(group: Group) -> Group:
    """`group` in its final form; InvalidInput names the field that is wrong."""
    if not 0 <= group.priority <= LARGEST_PRIORITY:
        raise InvalidInput("priority", f"must be 0 to {LARGEST_PRIORITY}, not {group.priority}")
    low, high = WEIGHTS
    if not math.isfinite(group.weight) or not low <= group.weight <= high:
        raise InvalidInput("weight", f"must be {low:g} to {high:g}, not {group.weight:g}")
    return Group(
        id=check_id("id", group.id),
        site_id=group.site_id,
        name=check_name("name", group.name),
        priority=group.priority,
        weight=round(group.weight, 3),
        created_at=group.created_at,
    )
