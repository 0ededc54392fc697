from dataclasses import replace

import pytest

from csms.errors import ManyInvalid
from csms.sites.location.location import SiteLocation, check_location

MILL = SiteLocation(
    country_code="BE",
    party_id="WEY",
    address="Weversgang 1",
    city="Gent",
    country="BEL",
    latitude="51.04530",
    longitude="3.72500",
)


def test_a_sound_location_is_taken_as_it_is() -> None:
    assert check_location(MILL) is MILL


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("country_code", "be"),
        ("party_id", "WEAVERS"),
        ("address", " "),
        ("city", ""),
        ("postal_code", "12345678901"),
        ("country", "BE"),
        ("latitude", "51,0453"),
        ("longitude", "3.7"),
        ("connector_standard", "type 2"),
        ("connector_format", "PLUG"),
    ],
)
def test_a_wrong_field_is_named(field: str, value: str) -> None:
    with pytest.raises(ManyInvalid) as refused:
        check_location(replace(MILL, **{field: value}))
    assert [name for name, _ in refused.value.faults] == [field]


def test_all_faults_are_named_at_once() -> None:
    with pytest.raises(ManyInvalid) as refused:
        check_location(replace(MILL, party_id="", city=""))
    assert [name for name, _ in refused.value.faults] == ["party_id", "city"]
