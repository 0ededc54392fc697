from api.web.addresses import address_of


def test_a_month_has_an_address_with_a_place_on_it() -> None:
    assert address_of("weavers-yard", "2026-11", "#meter") == "/month/weavers-yard?month=2026-11#meter"


def test_what_people_typed_stays_inside_its_part() -> None:
    assert address_of("yard", "2026&x=/#y") == "/month/yard?month=2026%26x%3D/%23y"
