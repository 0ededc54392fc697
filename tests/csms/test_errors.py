"""Errors say which field or thing, and carry a stable code."""

from csms import errors


def test_texts_name_the_field_or_thing() -> None:
    assert (
        str(errors.InvalidInput("limit_a.L1", "must not be negative")) == "limit_a.L1: must not be negative"
    )
    assert str(errors.NotFound("station", "BAY-99")) == "there is no station BAY-99"
    assert "BAY-01" in str(errors.StationOffline("BAY-01"))
    assert "unknown" in str(errors.StationSilent("BAY-01"))
    assert str(errors.Conflict("it is charging")) == "it is charging"


def test_codes_are_unique_and_under_one_root() -> None:
    kinds = [
        kind
        for kind in vars(errors).values()
        if isinstance(kind, type) and issubclass(kind, errors.PhaseyardError)
    ]
    codes = [kind.code for kind in kinds]
    assert len(set(codes)) == len(kinds) > 5
