"""The types that models are made of."""

from datetime import UTC, datetime
from typing import Any

import pytest
from pydantic import Field, ValidationError

from api.fields import Ident, Input, Instant, LineAmps, Note, Output, PerLine, Text, absent


class Update(Input):
    name: Text = Field(default_factory=absent)
    note: Note = Field(default_factory=absent)
    circuit: Ident | None = None
    until: Instant | None = None
    limit_a: LineAmps = Field(default_factory=absent)


class Measured(Output):
    at: Instant
    current_a: PerLine


def test_an_update_holds_only_what_was_given() -> None:
    assert Update.model_validate({}).given() == {}
    assert Update.model_validate({"circuit": None, "note": ""}).given() == {"circuit": None, "note": ""}


def test_what_may_be_left_out_need_not_allow_null() -> None:
    for field in ("name", "note", "limit_a"):
        with pytest.raises(ValidationError):
            Update.model_validate({field: None})
    assert "default" not in Update.model_json_schema()["properties"]["name"]


@pytest.mark.parametrize(
    ("given", "utc"),
    [
        ("2026-11-02T18:00:00+01:00", datetime(2026, 11, 2, 17, tzinfo=UTC)),
        ("2026-11-02T18:00:00Z", datetime(2026, 11, 2, 18, tzinfo=UTC)),
        # RFC 3339, 5.8: the example with an offset of minutes.
        ("1996-12-19T16:39:57-08:00", datetime(1996, 12, 20, 0, 39, 57, tzinfo=UTC)),
    ],
)
def test_instants_carry_their_zone(given: str, utc: datetime) -> None:
    assert Update.model_validate({"until": given}).until == utc


@pytest.mark.parametrize("wrong", ["2026-11-02", "2026-11-02T18:00:00", "today", 0, 1.5, True, ""])
def test_what_has_no_zone_is_no_instant(wrong: object) -> None:
    with pytest.raises(ValidationError):
        Update.model_validate({"until": wrong})


@pytest.mark.parametrize(
    ("given", "amps"),
    [
        (63, (63.0, 63.0, 63.0)),
        ({"L1": 32, "L3": 16.5}, (32.0, 0.0, 16.5)),
        ({}, (0.0, 0.0, 0.0)),
    ],
)
def test_a_current_per_line(given: object, amps: tuple[float, float, float]) -> None:
    assert Update.model_validate({"limit_a": given}).limit_a == amps


def test_measured_lines_keep_what_is_unknown() -> None:
    at = datetime(2026, 11, 2, 17, 0, 0, 500_000, tzinfo=UTC)
    sent: Any = Measured(at=at, current_a=(6.0, None, 0.0)).model_dump(mode="json")
    assert sent == {
        "at": "2026-11-02T17:00:00.500000Z",
        "current_a": {"L1": 6.0, "L2": None, "L3": 0.0},
    }
