"""Which feeds are sound."""

from collections.abc import Callable

import pytest

from csms.errors import InvalidInput
from csms.tariffs.market.feed import Feed, check_feed


def test_a_sound_one(feed: Callable[..., Feed]) -> None:
    made = feed(area="10YBE----------2", sequence=1, minutes=15)
    assert check_feed(made) is made


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"id": "The Mill"}, "id"),
        ({"name": " "}, "name"),
        ({"area": ""}, "area"),
        ({"area": "a\n"}, "area"),
        ({"sequence": 0}, "sequence"),
        ({"minutes": 20}, "minutes"),
    ],
)
def test_what_is_wrong_is_named(feed: Callable[..., Feed], fields: dict[str, object], field: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        check_feed(feed(**fields))
    assert caught.value.field == field
